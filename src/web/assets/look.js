// Light or dark? As the device has it, unless somebody chose; the choice stays with this browser.

const select = document.getElementById("look");

function stored() {
  try {
    return localStorage.getItem("look");
  } catch {
    return null;
  }
}

function store(look) {
  try {
    localStorage.setItem("look", look);
  } catch {
    // A browser that keeps nothing still shows what was chosen.
  }
}

/** Shows what was chosen before, and follows the choice. */
export function followLook() {
  const before = stored();
  select.value = ["light", "dark"].includes(before) ? before : "auto";
  document.documentElement.dataset.look = select.value;
  select.addEventListener("change", () => {
    document.documentElement.dataset.look = select.value;
    store(select.value);
  });
}
