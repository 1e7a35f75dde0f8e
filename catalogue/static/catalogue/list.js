// The list of shoes, better with a script: the tray of shoes to compare, where the focus goes, and reading a mark by touch.
(function () {
  "use strict";
  const results = document.getElementById("results");
  const tray = document.getElementById("tray");
  const KEY = "benchlast-compare";
  const most = tray ? Number(tray.dataset.most) : 0;

  function held() {
    try { return JSON.parse(sessionStorage.getItem(KEY)) || []; } catch (problem) { return []; }
  }
  function hold(shoes) {
    try { sessionStorage.setItem(KEY, JSON.stringify(shoes)); } catch (problem) { /* a private window: for this page only */ }
    show(shoes);
  }
  function titleOf(box) {
    return box.closest("label").querySelector(".visually-hidden").textContent.trim();
  }
  function item(shoe) {
    const line = document.createElement("li");
    const field = document.createElement("input");
    const remove = document.createElement("button");
    field.type = "hidden"; field.name = "shoe"; field.value = shoe.slug;
    remove.type = "button"; remove.className = "link-button"; remove.textContent = "✕";
    remove.setAttribute("aria-label", "Remove " + shoe.title);
    remove.addEventListener("click", function () {
      hold(held().filter(function (other) { return other.slug !== shoe.slug; }));
    });
    line.append(field, shoe.title + " ", remove);
    return line;
  }
  function show(shoes) {
    tray.querySelector(".tray__shoes").replaceChildren.apply(tray.querySelector(".tray__shoes"), shoes.map(item));
    tray.hidden = shoes.length === 0;
    document.body.classList.toggle("has-tray", shoes.length > 0);
    const slugs = shoes.map(function (shoe) { return shoe.slug; });
    results.querySelectorAll("input[name=shoe]").forEach(function (box) { box.checked = slugs.includes(box.value); });
  }
  function refuse(box) {
    box.checked = false;
    const said = document.createElement("span");
    said.className = "pick__said small";
    said.setAttribute("role", "alert");
    said.textContent = "Up to four can be compared. Remove one first.";
    results.querySelectorAll(".pick__said").forEach(function (other) { other.remove(); });
    box.closest("td").append(said);
  }
  if (tray && results) {
    results.addEventListener("change", function (event) {
      const box = event.target;
      if (box.name !== "shoe") { return; }
      const shoes = held().filter(function (shoe) { return shoe.slug !== box.value; });
      if (box.checked && shoes.length >= most) { refuse(box); return; }
      results.querySelectorAll(".pick__said").forEach(function (other) { other.remove(); });
      hold(box.checked ? shoes.concat({ slug: box.value, title: titleOf(box) }) : shoes);
    });
    tray.querySelector("[data-clear]").addEventListener("click", function () { hold([]); });
    show(held());
  }

  // After paging, sorting or sending the form the focus goes to the results; while somebody types or ticks it stays.
  document.addEventListener("htmx:afterSwap", function (event) {
    if (!results || event.detail.target !== results) { return; }
    if (tray) { show(held()); }
    document.querySelectorAll("#filters .field__error").forEach(function (said) {
      said.parentElement.querySelectorAll("input").forEach(function (input) {
        if (said.textContent.trim()) { input.setAttribute("aria-invalid", "true"); } else { input.removeAttribute("aria-invalid"); }
      });
    });
    const by = event.detail.requestConfig;
    const isSent = by.triggeringEvent && by.triggeringEvent.type === "submit";
    if (isSent || by.elt.tagName === "A") {
      const place = document.getElementById("results-title") || document.getElementById("list");
      if (place) { place.focus(); }
    }
  });

  // To press a link is to leave the field before it, which asks for new results. They wait for the end of the press:
  // results that came between its two halves would take the link away, and with it the click.
  let isPressed = false;
  let waiting = null;
  document.addEventListener("pointerdown", function () { isPressed = true; }, true);
  function release() {
    isPressed = false;
    if (waiting) { setTimeout(waiting); waiting = null; }
  }
  document.addEventListener("pointerup", release, true);
  document.addEventListener("pointercancel", release, true);
  document.addEventListener("htmx:confirm", function (event) {
    if (!isPressed || event.detail.target !== results) { return; }
    event.preventDefault();
    waiting = function () { event.detail.issueRequest(true); };
  });

  // A first tap on a mark reads it, a second one opens the shoe.
  document.addEventListener("click", function (event) {
    const mark = event.target.closest && event.target.closest("a.mark");
    if (!mark || event.pointerType !== "touch" || mark.classList.contains("is-read")) { return; }
    const line = mark.closest("figure").querySelector(".readout-line");
    if (!line) { return; }
    event.preventDefault();
    document.querySelectorAll("a.mark.is-read").forEach(function (other) { other.classList.remove("is-read"); });
    mark.classList.add("is-read");
    const open = document.createElement("a");
    open.href = mark.getAttribute("href");
    open.textContent = "Open";
    line.replaceChildren(mark.querySelector("title").textContent + " ", open);
  });
}());
