// Finds among the corals of the page. Without this script all of them stand there in their groups.
(() => {
  "use strict";
  const form = document.querySelector("[data-gallery]");
  const corals = [...document.querySelectorAll("[data-find]")];
  const told = form.querySelector("[role=status]");

  const sift = () => {
    const wanted = form.querySelector("[type=search]").value.toLowerCase().split(/\s+/).filter(Boolean);
    const living = form.elements.living.checked;
    const offer = form.elements.offer.checked;
    for (const coral of corals) {
      const {find, living: lives, offer: offered} = coral.dataset;
      coral.hidden = !wanted.every((word) => find.includes(word))
        || (living && lives === undefined) || (offer && offered === undefined);
    }
    for (const group of new Set(corals.map((coral) => coral.closest("section")))) {
      group.hidden = !group.querySelector("[data-find]:not([hidden])");
    }
    const n = corals.filter((coral) => !coral.hidden).length;
    told.textContent = n === corals.length ? "" : n === 1 ? form.dataset.one : form.dataset.other.replace("#", n);
  };

  form.addEventListener("input", sift);
  form.addEventListener("submit", (event) => event.preventDefault());
  sift();
})();
