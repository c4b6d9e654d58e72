// Finds among the corals of the page. Without this script all of them are there in their groups.
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
    const n = corals.filter((coral) => !coral.hidden).length;
    for (const group of document.querySelectorAll("section:has([data-find])")) {
      group.hidden = !group.querySelector("[data-find]:not([hidden])");
    }
    // Where there are many, those of a line unfold while they are looked for.
    for (const fold of document.querySelectorAll("details:has([data-find])")) fold.open = wanted.length > 0;
    told.textContent = n === corals.length ? "" : n === 1 ? form.dataset.one : form.dataset.other.replace("#", n);
  };

  form.addEventListener("input", sift);
  form.addEventListener("submit", (event) => event.preventDefault());
  sift();
})();
