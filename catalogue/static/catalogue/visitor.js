/* What a visitor's device remembers by itself: the shoes seen last, and those marked to come back to.
   Both are in localStorage and are sent to nobody; where it is switched off, nothing is remembered. */
(() => {
  "use strict";
  const SEEN = "benchlast-seen";
  const MARKED = "benchlast-remembered";
  const MOST_SEEN = 12;
  const MOST_MARKED = 24;

  const read = (key) => {
    try {
      const list = JSON.parse(localStorage.getItem(key) || "[]");
      return Array.isArray(list) ? list.filter((each) => each && typeof each.slug === "string") : [];
    } catch { return []; }
  };
  const write = (key, list) => { try { localStorage.setItem(key, JSON.stringify(list)); } catch { /* switched off, or full */ } };

  /* A shoe's page: seen now, and a button that marks it. */
  const link = document.querySelector("[data-remember]");
  if (link) {
    const { slug, title, band, score } = link.dataset;
    const shoe = { slug, title, band, score };
    write(SEEN, [shoe, ...read(SEEN).filter((each) => each.slug !== slug)].slice(0, MOST_SEEN));
    const isMarked = () => read(MARKED).some((each) => each.slug === slug);
    const show = () => { link.textContent = isMarked() ? "Remembered" : "Remember"; link.setAttribute("aria-pressed", String(isMarked())); };
    link.setAttribute("role", "button");
    const press = (event) => {
      event.preventDefault();
      const rest = read(MARKED).filter((each) => each.slug !== slug);
      write(MARKED, isMarked() ? rest : [shoe, ...rest].slice(0, MOST_MARKED));
      show();
    };
    link.addEventListener("click", press);
    link.addEventListener("keydown", (event) => { if (event.key === " ") press(event); });
    show();
  }

  /* The page of remembered shoes: its address names them, so that it can be passed on. */
  const page = document.querySelector("[data-remembered]");
  if (page) {
    const marked = read(MARKED);
    const address = marked.map((each) => "shoe=" + encodeURIComponent(each.slug)).join("&");
    if (page.dataset.remembered === "" && marked.length) location.replace(location.pathname + "?" + address);
    for (const button of page.querySelectorAll("[data-forget]")) {
      button.addEventListener("click", () => write(MARKED, read(MARKED).filter((each) => each.slug !== button.dataset.forget)));
    }
  }

  /* Without a network: the shoes seen last, as they were measured then. */
  const list = document.getElementById("seen");
  if (list) {
    const seen = read(SEEN);
    for (const each of seen) {
      const row = document.createElement("li");
      const name = document.createElement("strong");
      name.textContent = each.title;
      row.append(name, ": " + each.score + ", " + each.band);
      list.append(row);
    }
    document.getElementById("seen-none").hidden = seen.length > 0;
  }

  if ("serviceWorker" in navigator && document.body.dataset.visitor === "yes") {
    window.addEventListener("load", () => navigator.serviceWorker.register("/service-worker.js").catch(() => {}));
  }
})();
