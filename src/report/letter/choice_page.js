// Shows the answer that was computed beforehand for what is chosen.
{
  const section = document.querySelector(".choices");
  const form = section.querySelector("form");
  const answer = section.querySelector(".answer");
  const [washes, coats] = section.dataset.counts.split(",").map(Number);
  const show = () => {
    const [storage, wash, coat] = ["storage", "wash", "coat"].map((name) => Number(form.elements[name].value));
    const place = (storage * washes + wash) * coats + coat;
    const found = section.querySelector(`template[data-place="${place}"]`);
    answer.replaceChildren(found.content.cloneNode(true));
  };
  form.addEventListener("change", show);
  form.addEventListener("submit", (event) => event.preventDefault());
  show();
}
