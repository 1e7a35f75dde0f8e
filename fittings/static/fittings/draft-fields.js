/* The fields of a fitting's page: the number pad with a button for the sign, errors that go when their field is
   corrected, the name in the bar, and the name as the first field to write in. */
(() => {
  "use strict";
  const form = document.getElementById("fitting");
  if (!form) return;

  /* A number pad has no minus sign on some tablets: the button changes the sign of what is in the field. */
  const MINUS = "\u2212";
  const withSign = (field) => {
    if (field.dataset.signed !== "yes") return;
    field.dataset.signed = "done";
    field.inputMode = "numeric";
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button button--quiet fit-sign";
    button.textContent = "+/" + MINUS;
    button.setAttribute("aria-label", "Change the sign of " + (field.labels[0] ? field.labels[0].textContent.trim() : "this number"));
    button.addEventListener("click", () => {
      const text = field.value.trim();
      field.value = /^[-\u2212]/.test(text) ? text.slice(1) : MINUS + text;
      field.focus();
      field.dispatchEvent(new Event("input", { bubbles: true }));
      field.dispatchEvent(new Event("change", { bubbles: true }));
    });
    const pair = document.createElement("span");
    pair.className = "fit-signed";
    field.replaceWith(pair);
    pair.append(field, button);
  };
  const prepare = () => { for (const field of form.querySelectorAll("[data-signed='yes']")) withSign(field); };

  /* Errors: a field's own go when it is changed, a section's when it is saved. */
  const clear = (box) => {
    for (const error of box.querySelectorAll(".field__error")) error.remove();
    for (const field of box.querySelectorAll("[aria-invalid='true']")) field.removeAttribute("aria-invalid");
  };
  const summaries = () => {
    if (form.querySelector(".field__error")) return;
    for (const box of document.querySelectorAll(".form-errors")) if (!box.closest(".fit-state")) box.remove();
  };
  form.addEventListener("change", (event) => {
    const box = event.target.closest(".field");
    if (box && box.querySelector(".field__error")) { clear(box); summaries(); }
  });
  form.addEventListener("fit:saved", (event) => { clear(event.detail); summaries(); });

  form.addEventListener("input", (event) => {
    if (event.target.name !== "person-name") return;
    document.getElementById("fit-who").textContent = event.target.value.trim() || "New customer";
  });

  document.body.addEventListener("htmx:afterSettle", (event) => {
    prepare();
    // The section came back without what follows from the other sections.
    if (event.target.id === "section-try_ons") window.htmx.trigger("#answer", "fit:changed");
  });
  prepare();
  for (const field of form.querySelectorAll("input[type='text'], input[type='email']")) field.enterKeyHint = "next";
  const first = form.elements.namedItem("person-name");
  const isFresh = form.dataset.kept !== "yes" && !first.value && !location.hash;
  if (isFresh && !document.getElementById("somebody-new").hidden) first.focus({ preventScroll: true });
})();
