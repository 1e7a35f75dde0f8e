/* The page of a fitting: each section is sent by htmx when it is left, and says whether it is saved.

   What is not saved yet is copied to sessionStorage, which ends with the tab, only after the customer agreed, and is
   removed as soon as it is saved. A copy found when the page opens (a reload, a sign-in in between, a crash) is put back
   and sent. When the page is left, what is unsaved is sent by a beacon. */
(() => {
  "use strict";
  const form = document.getElementById("fitting");
  if (!form || !window.htmx) return;
  const STORE = "fitting:" + form.dataset.key;
  const RETRY_MS = 5000;
  // Time for the focus to arrive somewhere else in the same section.
  const LEFT_MS = 250;
  const WRITTEN = ["text", "email", "tel", "date"];
  const state = new Map();
  const page = form.elements.namedItem("page");
  // Sent with every section: how its numbers and sizes are to be read.
  const ALWAYS = ["csrfmiddlewaretoken", "page", "store", "units", "sizes", "foot-size_system"];
  let finishing = false;
  let asked = null;
  // A finger is down on the page: the answer is not swapped under it, for the touch would be lost.
  let touching = false;
  let missed = false;
  // How often need and match were asked for, and how many of these questions the request under way has in it.
  const answers = { wanted: 0, sent: 0 };

  const sections = () => [...form.querySelectorAll("[data-section]")];
  const sectionOf = (node) => (node instanceof Element ? node.closest("[data-section]") : null);
  const find = (name) => document.getElementById("section-" + name);
  const of = (name) => {
    if (!state.has(name)) state.set(name, { edit: 0, dirty: false, sending: null, waiting: false, stopped: false });
    return state.get(name);
  };
  const agreed = () => Boolean(form.querySelector("[name='person-consent'][value='yes']:checked"));
  const fields = (section) =>
    [...section.querySelectorAll("input, select, textarea")].filter((field) => field.name && !("aside" in field.dataset));

  /* What is said beside the heading, and for all sections together. */
  const mark = (name, kind, look, words) => {
    const shown = document.querySelector("#state-" + name + " [data-kind]");
    if (!shown || shown.dataset.kind === kind) return;
    shown.dataset.kind = kind;
    shown.className = "state " + look;
    shown.textContent = words;
  };
  const tell = () => {
    const open = [...state.values()].filter((each) => each.dirty);
    const waiting = open.some((each) => each.waiting);
    const bar = document.getElementById("fit-all");
    const count = open.length + (open.length === 1 ? " section" : " sections");
    let words = open.length ? count + " not saved yet" : "All saved";
    if (waiting) words += ": no connection, sent again when it is back";
    else if (open.length && !agreed()) words = "Nothing is stored: no consent yet";
    if (bar.textContent !== words) bar.textContent = words;
  };

  /* The copy that outlives a reload, not the tab. */
  const values = (section) => fields(section)
    .filter((field) => !["checkbox", "radio"].includes(field.type) || field.checked)
    .map((field) => [field.name, field.value]);
  const keep = () => {
    const open = {};
    for (const [name, each] of state) if (each.dirty && find(name)) open[name] = { edit: each.edit, values: values(find(name)) };
    try {
      const units = form.elements.namedItem("units").value;
      if (agreed() && Object.keys(open).length) sessionStorage.setItem(STORE, JSON.stringify({ page: page.value, units, open }));
      else sessionStorage.removeItem(STORE);
    } catch { /* storage is switched off: the page itself still holds everything */ }
  };
  const restore = () => {
    let kept = null;
    try { kept = JSON.parse(sessionStorage.getItem(STORE) || "null"); } catch { /* not readable: nothing to put back */ }
    if (!kept) return;
    page.value = kept.page;
    // Numbers of another system of units would be read wrongly: only what is no measure is put back.
    const isSame = kept.units === form.elements.namedItem("units").value;
    for (const [name, copy] of Object.entries(kept.open)) {
      const section = find(name);
      if (!section) continue;
      for (const field of fields(section)) {
        if (!isSame && field.inputMode === "decimal") continue;
        const given = copy.values.filter(([key]) => key === field.name).map(([, value]) => value);
        if (["checkbox", "radio"].includes(field.type)) field.checked = given.includes(field.value);
        else field.value = given.length ? given[0] : "";
      }
      Object.assign(of(name), { edit: copy.edit, dirty: true });
      mark(name, "unsaved", "state--wait", "Not saved yet");
    }
    // A shoe that was not saved is not among the choices before the next answer.
    chosen = kept.open.choice?.values.find(([key]) => key === "choice-place")?.[1] ?? ticked();
    window.htmx.trigger("#answer", "fit:changed");
    sendAll();
  };

  /* Sending. */
  const send = (name) => {
    const each = of(name);
    if (!each.dirty || each.sending !== null || each.stopped || finishing) return;
    if (name !== "person" && !agreed()) return held(name);
    if (name !== "person" && form.dataset.kept !== "yes") return send("person");
    each.sending = each.edit;
    window.htmx.trigger(find(name), "fit:leave");
  };
  const held = (name) => mark(name, "held", "state--wait", "Not stored: no consent yet");
  const sendAll = (but) => { for (const name of state.keys()) if (name !== but) send(name); };
  const changed = (section) => {
    const name = section.dataset.section;
    const each = of(name);
    each.edit += 1;
    each.dirty = true;
    each.stopped = false;
    mark(name, "unsaved", "state--wait", "Not saved yet");
    if (name === "person" && form.dataset.kept !== "yes") for (const [other, its] of state) if (its.dirty && other !== name) mark(other, "unsaved", "state--wait", "Not saved yet");
    keep();
    tell();
  };
  const beacon = () => {
    if (finishing || !agreed()) return;
    for (const [name, each] of state) {
      const section = find(name);
      if (!each.dirty || each.stopped || !section || (name !== "person" && form.dataset.kept !== "yes")) continue;
      const body = new FormData();
      for (const key of ALWAYS) if (form.elements.namedItem(key)) body.append(key, form.elements.namedItem(key).value);
      body.append("edit", each.edit);
      for (const [key, value] of values(section)) body.append(key, value);
      navigator.sendBeacon(section.getAttribute("hx-post"), body);
    }
  };

  /* The choices come with each answer about need and match, as they were when it was asked for. An answer that another
     one follows does not change them, and what was ticked while one was under way stays ticked. */
  const places = () => [...form.querySelectorAll("[name='choice-place']")];
  const ticked = () => places().find((each) => each.checked)?.value ?? "";
  const width = () => form.querySelector("[name='choice-width']");
  let widthSaid = "";
  let chosen = ticked();
  let shown = chosen;
  document.getElementById("answer").addEventListener("fit:changed", () => { answers.wanted += 1; });
  form.addEventListener("htmx:oobBeforeSwap", (event) => {
    if (event.detail.target.id !== "fit-places") return;
    shown = ticked();
    if (width()) widthSaid = width().value;
    if (answers.sent !== answers.wanted) event.detail.shouldSwap = false;
  });
  form.addEventListener("htmx:oobAfterSwap", (event) => {
    if (event.detail.target.id !== "fit-places") return;
    const again = places().find((each) => each.value === chosen);
    if (again) again.checked = true;
    if (width() && [...width().options].some((each) => each.value === widthSaid)) width().value = widthSaid;
    // A shoe that is no longer among those tried on, or is again: what is seen is what is saved.
    if (ticked() !== shown) changed(find("choice"));
    shown = ticked();
  });

  form.addEventListener("htmx:configRequest", (event) => {
    const section = event.target;
    if (section.id === "answer") answers.sent = answers.wanted;
    if (!section.dataset || !section.dataset.section || event.detail.verb !== "post") return;
    const own = new Set([...fields(section).map((field) => field.name), ...ALWAYS]);
    for (const key of [...event.detail.formData.keys()]) if (!own.has(key)) event.detail.formData.delete(key);
    event.detail.formData.set("edit", of(section.dataset.section).edit);
  });
  form.addEventListener("htmx:beforeSwap", (event) => {
    if (touching && event.detail.target.id === "answer") { event.detail.shouldSwap = false; missed = true; return; }
    const name = event.detail.elt.dataset.section;
    if (name === "person" && event.detail.xhr.status === 200) form.dataset.kept = "yes";
    if (event.detail.xhr.status === 409) { event.detail.shouldSwap = true; event.detail.isError = false; }
    // Somebody writes on while the answer was under way: the fields stay as they are, and are sent again.
    if (event.detail.xhr.status === 400 && name && of(name).edit !== of(name).sending) event.detail.shouldSwap = false;
  });
  // The section that sent: after a refusal it is not on the page any more, another one is in its place.
  const sender = (event) => event.detail.requestConfig?.elt.dataset.section;
  const failed = (event) => {
    const name = sender(event);
    if (!name) return;
    Object.assign(of(name), { sending: null, waiting: true });
    mark(name, "waiting", "state--wait", "Not saved yet: no connection");
    tell();
    goOn();
  };
  for (const kind of ["htmx:sendError", "htmx:timeout"]) form.addEventListener(kind, failed);
  form.addEventListener("htmx:afterRequest", (event) => {
    const name = sender(event);
    const status = event.detail.xhr ? event.detail.xhr.status : 0;
    if (!name || !status) return;
    // Led away, to sign in again for example: nothing was saved, and the copy is put back afterwards.
    if (event.detail.xhr.getResponseHeader("HX-Redirect")) { of(name).sending = null; return; }
    if (status >= 500) return failed(event);
    const each = of(name);
    const isLatest = each.edit === each.sending;
    Object.assign(each, { sending: null, waiting: false });
    if (status === 200 && isLatest) { each.dirty = false; form.dispatchEvent(new CustomEvent("fit:saved", { detail: find(name) })); }
    if ((status === 400 || status === 409) && isLatest) each.stopped = true;
    if (name === "person") form.dataset.kept = status === 200 ? "yes" : status === 202 ? "" : form.dataset.kept;
    if (status === 202) {
      each.stopped = isLatest;
      for (const other of name === "person" ? state.keys() : []) if (other !== name) { of(other).dirty = true; held(other); }
    }
    // The answer names the section's standing; what was written since is not in it.
    if (!isLatest) requestAnimationFrame(() => mark(name, "unsaved", "state--wait", "Not saved yet"));
    keep();
    tell();
    if (name === "person" && status === 200) sendAll(name);
    // The customer agreed while the section was under way without it: nothing is stored before it is sent again.
    else if (!isLatest && (status === 202 && agreed() || !find(name).contains(document.activeElement))) send(name);
    goOn();
  });

  /* A section is left when anything outside it is touched or gets the focus. */
  const left = (event) => { const here = sectionOf(event.target)?.dataset.section; sendAll(here); };
  for (const kind of ["focusin", "pointerdown"]) document.addEventListener(kind, left, true);
  form.addEventListener("focusout", () => setTimeout(() => sendAll(sectionOf(document.activeElement)?.dataset.section), LEFT_MS));
  document.addEventListener("pointerdown", (event) => { touching = Boolean(event.target.closest("#fitting")); });
  for (const kind of ["pointerup", "pointercancel"]) document.addEventListener(kind, () => {
    if (missed) window.htmx.trigger("#answer", "fit:changed");
    touching = missed = false;
  });
  document.addEventListener("visibilitychange", () => { if (document.visibilityState === "hidden") beacon(); else sendAll(); });
  window.addEventListener("pagehide", beacon);
  window.addEventListener("online", () => sendAll());
  setInterval(() => { for (const [name, each] of state) if (each.waiting) send(name); }, RETRY_MS);
  window.addEventListener("beforeunload", (event) => {
    if (!finishing && agreed() && [...state.values()].some((each) => each.dirty && (each.waiting || each.stopped))) event.preventDefault();
  });

  const aside = (target) => "aside" in target.dataset || !sectionOf(target);
  form.addEventListener("input", (event) => { if (!aside(event.target)) changed(sectionOf(event.target)); });
  form.addEventListener("change", (event) => {
    if (!aside(event.target) && sectionOf(event.target).dataset.section !== "choice") window.htmx.trigger("#answer", "fit:changed");
    // Sent at once: everything else waits for it.
    if (event.target.name === "person-consent") send("person");
    if (event.target.name === "choice-place") chosen = event.target.value;
  });
  // Enter moves on to the next field to write in, and sends the section after its last one.
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !(event.target instanceof HTMLInputElement)) return;
    event.preventDefault();
    const section = sectionOf(event.target);
    if (!section) return;
    const written = [...section.querySelectorAll("input")].filter((field) => WRITTEN.includes(field.type) && field.checkVisibility() && !("aside" in field.dataset));
    const next = written[written.indexOf(event.target) + 1];
    if (next) next.focus();
    else send(section.dataset.section);
  });

  /* Buttons that without this file send the whole page. */
  const setField = (name, value) => { const field = form.elements.namedItem(name); if (field) field.value = value; };
  const pick = (pk, name, hasAgreed, sizes) => {
    setField("person-known", pk);
    if (sizes && !form.elements.namedItem("foot-size_system").value) { setField("foot-size_system", sizes); changed(find("feet")); }
    document.getElementById("picked-name").textContent = name;
    document.getElementById("fit-who").textContent = name || "New customer";
    document.getElementById("picked").hidden = !pk;
    // What was last time, of the customer just picked; of nobody it is empty.
    window.htmx.trigger("#last-time", "fit:picked");
    document.getElementById("somebody-new").hidden = Boolean(pk);
    document.getElementById("people").replaceChildren();
    if (hasAgreed) form.querySelector("[name='person-consent'][value='yes']").checked = true;
    changed(find("person"));
    if (agreed()) send("person");
  };
  const tryOn = (button) => {
    for (let row = 0; form.elements.namedItem("try-" + row + "-slug"); row += 1) {
      const slug = form.elements.namedItem("try-" + row + "-slug");
      if (slug.value) continue;
      slug.value = button.dataset.name;
      setField("try-" + row + "-size", button.dataset.size);
      const more = slug.closest("details");
      if (more) more.open = true;
      changed(find("try_ons"));
      window.htmx.trigger("#answer", "fit:changed");
      const next = slug.closest("fieldset").querySelector(button.dataset.size ? "[type='radio']" : "[name$='-size']");
      next.focus({ preventScroll: true });
      slug.closest("fieldset").scrollIntoView({ block: "nearest" });
      return;
    }
  };
  form.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button || button.value === "finish") return;
    const data = button.dataset;
    event.preventDefault();
    if (data.pick) pick(data.pick, data.name, data.agreed, data.sizes);
    else if ("unpick" in data) pick("", "", false, "");
    else if (data.try) tryOn(button);
    else if ("ask" in data) window.htmx.trigger("#answer", "fit:changed");
    else if (data.keep) {
      document.querySelector("[name='" + data.keep + "-version']").value = data.version;
      changed(find(data.keep));
      send(data.keep);
    } else if (data.theirs) Object.assign(of(data.theirs), { dirty: false, stopped: false });
  });
  /* Finishing waits until every section is saved, so that a refusal is met here and no copy stays behind. */
  form.addEventListener("submit", (event) => {
    const open = [...state.values()].filter((each) => each.dirty);
    if (!agreed() || !open.length) { finishing = true; return; }
    event.preventDefault();
    asked = event.submitter;
    sendAll();
    goOn();
  });
  const goOn = () => {
    const open = [...state.entries()].filter(([, each]) => each.dirty);
    if (!asked || open.some(([, each]) => each.sending !== null)) return;
    const button = asked;
    if (!open.length) { asked = null; form.requestSubmit(button); return; }
    if (!open.some(([, each]) => each.stopped || each.waiting)) { sendAll(); return; }
    asked = null;
    find(open[0][0]).scrollIntoView();
    tell();
  };
  window.addEventListener("pageshow", (event) => { if (event.persisted) finishing = false; });
  form.addEventListener("formdata", (event) => {
    event.formData.append("edit", Math.max(0, ...[...state.values()].map((each) => each.edit)));
    for (const section of sections()) if (!of(section.dataset.section).dirty) event.formData.append("untouched", section.dataset.section);
  });

  for (const button of form.querySelectorAll(".fit-save")) button.hidden = true;
  document.body.addEventListener("htmx:afterSettle", (event) => { if (event.target.id === "section-choice") chosen = ticked(); });
  document.body.addEventListener("htmx:afterSettle", () => { for (const button of form.querySelectorAll(".fit-save")) button.hidden = true; });
  for (const section of sections()) {
    const kind = section.querySelector("[data-kind]").dataset.kind;
    const isOpen = ["refused", "changed", "unsaved", "held"].includes(kind);
    Object.assign(of(section.dataset.section), { dirty: isOpen, stopped: kind === "refused" || kind === "changed" });
  }
  // htmx listens to the sections from DOMContentLoaded on, and asked before us: what is sent earlier would be lost.
  document.addEventListener("DOMContentLoaded", () => { restore(); tell(); });
})();
