/* Fields that name a shoe: while one is typed, the names that have its words are asked for and offered. */
(() => {
  "use strict";
  const offered = document.getElementById("shoes");
  if (!offered || !offered.dataset.address) return;
  const WAIT_MS = 200;
  const SHORTEST = 2;
  let timer = 0;
  let asked = "";
  const ask = async (words) => {
    asked = words;
    try {
      const answer = await fetch(offered.dataset.address + "?words=" + encodeURIComponent(words));
      // A name typed on meanwhile has another answer under way.
      if (answer.ok && !answer.redirected && asked === words) offered.innerHTML = await answer.text();
    } catch { /* no connection: the names offered before stay */ }
  };
  document.addEventListener("input", (event) => {
    const field = event.target;
    if (!(field instanceof HTMLInputElement) || field.getAttribute("list") !== "shoes") return;
    const words = field.value.trim();
    clearTimeout(timer);
    if (words.length >= SHORTEST && words !== asked) timer = setTimeout(() => ask(words), WAIT_MS);
  });
})();
