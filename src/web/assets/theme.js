// Light or dark? As on the device, unless chosen here; the choice stays with this browser.

const select = document.getElementById("theme");

function stored() {
  try {
    return localStorage.getItem("theme");
  } catch {
    return null;
  }
}

function store(theme) {
  try {
    localStorage.setItem("theme", theme);
  } catch {
    // A browser that keeps nothing still shows what was chosen.
  }
}

/** Restores the choice of before, and follows further ones. */
export function followTheme() {
  const before = stored();
  select.value = ["light", "dark"].includes(before) ? before : "auto";
  document.documentElement.dataset.theme = select.value;
  select.addEventListener("change", () => {
    document.documentElement.dataset.theme = select.value;
    store(select.value);
  });
}
