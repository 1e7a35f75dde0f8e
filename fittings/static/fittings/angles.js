/* Measuring on a picture, in the observation of a fitting and in looks: marks by finger, mouse or keyboard, each twice.

   The picture is in this file's memory alone. It is gone as soon as the section is left: the camera is stopped, the
   canvas emptied, the video's address revoked. Only the marks are sent, and the server works the value out of them. */
(() => {
  "use strict";
  const pictures = window.anglePictures;
  const first = document.querySelector("[data-angle-panel]");
  if (!first || !pictures) return;
  // A page has one panel in each of its places; the one that was opened last is in use.
  let panelId = first.id;
  const panel = () => document.getElementById(panelId);
  const HOME = "[data-section], [data-angle-home]";
  const panelBeside = (element) => { const home = element.closest(HOME); return home && home.querySelector("[data-angle-panel]"); };
  // While marks are missing a touch places one, unless it is right on another: two lines may end close together.
  const NEAR_CSS_PX = { placing: 12, moving: 28 };
  const LENS_PX = 140;
  const LENS_ZOOM = 3;
  // What is being measured: the foot, the measure, the steps of its marks, the marks so far, and the picture's canvas.
  let now = null;
  let held = -1;

  const part = (name) => panel().querySelector(`[data-angle="${name}"]`);
  const action = (name) => panel().querySelector(`[data-angle-do="${name}"]`);
  const kindsOf = (box) => JSON.parse(box.dataset.kinds);
  const show = (name, isShown) => { part(name).hidden = !isShown; };
  const say = (words) => { part("problem").textContent = words; show("problem", Boolean(words)); };
  const section = () => panel().closest(HOME);

  /* Each reading of a measure is a step; one with two pictures has both readings of the first before the second. */
  const stepsOf = (kind) => {
    const each = kind.needs_length ? kind.marks.length / 2 : kind.marks.length;
    const steps = [];
    for (let picture = 0; picture * each < kind.marks.length; picture += 1) for (const reading of [0, 1]) steps.push({ reading, picture, from: picture * each, count: each });
    return steps;
  };
  const step = () => now.steps[now.at];
  const marks = () => now.readings[step().reading];
  const own = () => marks().slice(step().from);
  const isFull = () => own().length === step().count;

  /* The same sums as fittings/domain/fitting/angles.py, so that a value is seen while the marks are placed. */
  const lean = ([x1, y1], [x2, y2]) => Math.atan2(x2 - x1, y2 - y1) * 180 / Math.PI;
  const length = ([x1, y1], [x2, y2]) => Math.hypot(x2 - x1, y2 - y1);
  const worth = (points) => {
    if (points.length < now.kind.marks.length) return null;
    if (now.kind.name === "navicular_drop") {
      const [sitting, standing] = [0, 4].map((at) => length(points[at], points[at + 1]) * Number(part("known").value) / length(points[at + 2], points[at + 3]));
      return sitting - standing;
    }
    const turn = (360 + lean(points[2], points[3]) - lean(points[0], points[1]) + 180) % 360 - 180;
    if (now.kind.name === "ankle_dorsiflexion") return Math.abs(turn) - 90;
    return (now.foot === "right") !== part("mirrored").checked ? turn : -turn;
  };

  /* Drawing. */
  const draw = () => {
    const canvas = part("canvas");
    if (!now || !now.picture) { canvas.width = canvas.height = 0; return; }
    if (canvas.width !== now.picture.width || canvas.height !== now.picture.height) Object.assign(canvas, { width: now.picture.width, height: now.picture.height });
    const pen = canvas.getContext("2d");
    pen.drawImage(now.picture, 0, 0);
    const thick = canvas.width / canvas.getBoundingClientRect().width || 1;
    const points = own();
    for (let at = 0; at + 1 < points.length; at += 2) stroke(pen, [points[at], points[at + 1]], thick);
    for (const point of points) ring(pen, point, thick);
  };
  const twice = (pen, thick, path) => {
    // A dark line with a light rim is seen on any picture.
    for (const [colour, width] of [["#fff", 5], ["#14213d", 2.5]]) { pen.strokeStyle = colour; pen.lineWidth = width * thick; pen.beginPath(); path(); pen.stroke(); }
  };
  const stroke = (pen, [start, end], thick) => twice(pen, thick, () => { pen.moveTo(...start); pen.lineTo(...end); });
  const ring = (pen, [x, y], thick) => twice(pen, thick, () => pen.arc(x, y, 9 * thick, 0, 2 * Math.PI));
  const lens = (point) => {
    const glass = part("lens");
    glass.hidden = !point;
    if (!point) return;
    const canvas = part("canvas");
    const [x, y] = point;
    const side = LENS_PX / LENS_ZOOM * (canvas.width / canvas.getBoundingClientRect().width);
    const pen = glass.getContext("2d");
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, LENS_PX, LENS_PX);
    pen.drawImage(now.picture, x - side / 2, y - side / 2, side, side, 0, 0, LENS_PX, LENS_PX);
    twice(pen, 0.6, () => { pen.moveTo(LENS_PX / 2, 0); pen.lineTo(LENS_PX / 2, LENS_PX); pen.moveTo(0, LENS_PX / 2); pen.lineTo(LENS_PX, LENS_PX / 2); });
    // On the side where the finger is not.
    glass.classList.toggle("fit-angle__lens--end", x < canvas.width / 2);
  };
  const guide = () => {
    show("work", Boolean(now && now.picture));
    if (!now || !now.picture) return;
    const { reading } = step();
    const next = now.kind.marks[marks().length];
    const value = isFull() ? worth(marks()) : null;
    let words = isFull() ? "All marks are placed. Move them until they are right, then confirm." : `Mark ${next}.`;
    if (value !== null && Number.isFinite(value)) words += ` ${now.kind.label}: ${value.toFixed(1)} ${now.kind.unit}.`;
    part("guide").textContent = `Reading ${reading + 1} of 2. ${words}`;
    action("confirm").disabled = !isFull();
    action("undo").disabled = !own().length;
  };
  const redraw = () => { draw(); guide(); };

  /* Opening, closing, and taking a picture. */
  const clear = () => {
    if (panel()) {
      pictures.closeVideo(part("video"));
      part("canvas").width = part("canvas").height = 0;
      part("file").value = "";
      part("result").replaceChildren();
      for (const name of ["stage", "work", "lens", "problem"]) show(name, false);
    }
    if (now && now.picture) now.picture.width = now.picture.height = 0;
    held = -1;
  };
  const close = () => { clear(); now = null; if (panel()) panel().hidden = true; };
  const begin = (foot, prefix, name) => {
    clear();
    const kind = kindsOf(panel())[name];
    now = { foot, prefix, kind, steps: stepsOf(kind), at: 0, readings: [[], []], picture: null };
    panel().hidden = false;
    part("title").textContent = `Measure on a picture: ${foot} foot`;
    part("how").textContent = `Take the picture ${kind.view}.`;
    part("length").hidden = !kind.needs_length;
    part("mirror").hidden = name !== "rearfoot_eversion";
    show("sources", true);
  };
  const taken = (canvas) => {
    now.picture = canvas;
    pictures.closeVideo(part("video"));
    show("stage", false);
    show("sources", false);
    redraw();
    part("canvas").focus({ preventScroll: true });
  };
  const attempt = async (work) => {
    const mine = now;
    say("");
    try { await work(); } catch (problem) { if (now === mine && panel()) { pictures.closeVideo(part("video")); show("stage", false); say(problem.message); } }
    // Left while it was loading: nothing may stay behind.
    if (now !== mine && panel()) clear();
  };
  const stage = (isVideo) => {
    show("stage", true);
    part("slider").parentElement.hidden = !isVideo;
    if (isVideo) Object.assign(part("slider"), { min: 0, max: part("video").duration, step: 0.01, value: 0 });
  };
  const chosen = (file) => attempt(async () => {
    pictures.closeVideo(part("video"));
    if (file.type.startsWith("video/")) { await pictures.openVideo(part("video"), file); stage(true); return; }
    const canvas = await pictures.fromFile(file);
    if (now) taken(canvas);
  });
  const camera = () => attempt(async () => { await pictures.openCamera(part("video")); stage(false); });

  /* Placing marks. */
  const place = (event) => {
    const canvas = part("canvas");
    const box = canvas.getBoundingClientRect();
    const at = (value, low, size, span) => Math.min(Math.max((value - low) / size * span, 0), span);
    return [at(event.clientX, box.left, box.width, canvas.width), at(event.clientY, box.top, box.height, canvas.height)];
  };
  const put = (index, point) => { marks()[step().from + index] = point; };
  const nearest = (point) => {
    const reach = NEAR_CSS_PX[isFull() ? "moving" : "placing"] * part("canvas").width / part("canvas").getBoundingClientRect().width;
    const far = own().map((each) => length(each, point));
    const least = Math.min(...far);
    return least < reach ? far.indexOf(least) : -1;
  };
  const down = (event) => {
    const point = place(event);
    held = nearest(point);
    if (held < 0 && isFull()) return;
    if (held < 0) held = own().length;
    put(held, point);
    event.target.setPointerCapture(event.pointerId);
    event.preventDefault();
    redraw();
    lens(point);
  };
  const move = (event) => { if (held >= 0) { const point = place(event); put(held, point); redraw(); lens(point); } };
  const up = () => { held = -1; lens(null); };
  const KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  const key = (event) => {
    const way = KEYS[event.key];
    if (!now || !now.picture || (!way && event.key !== "Enter")) return;
    event.preventDefault();
    event.stopPropagation();
    if (event.key === "Enter" && !isFull()) put(own().length, [now.picture.width / 2, now.picture.height / 2]);
    const last = own().length - 1;
    if (way && last >= 0) { const [x, y] = own()[last]; const far = event.shiftKey ? 10 : 1; put(last, [x + way[0] * far, y + way[1] * far]); lens(own()[last]); }
    redraw();
  };
  const undo = () => { marks().pop(); redraw(); };
  const confirm = () => {
    const before = step();
    now.at += 1;
    if (now.at === now.steps.length) { now.at -= 1; finish(); return; }
    if (step().picture !== before.picture) {
      now.picture = null;
      show("sources", true);
      part("how").textContent = "Now the same foot standing: take or choose the second picture.";
    }
    redraw();
  };

  /* The value: asked of the server, put into its field, with the marks beside it. */
  const sent = () => ({ readings: now.readings.map((each) => each.map((point) => point.map((value) => Math.round(value * 10) / 10))), mirrored: part("mirrored").checked, known_mm: now.kind.needs_length ? Number(part("known").value) || null : null });
  const finish = () => attempt(async () => {
    const body = new FormData();
    body.append("csrfmiddlewaretoken", panel().closest("form").querySelector("[name='csrfmiddlewaretoken']").value);
    body.append("foot", now.foot);
    body.append("marks", JSON.stringify({ [now.kind.name]: sent() }));
    let answer;
    try { answer = await fetch(panel().dataset.address, { method: "POST", body }); } catch { throw new Error("No connection: the marks are still here. Confirm again when it is back, or type the value."); }
    const words = await answer.text();
    if (answer.status !== 200 && answer.status !== 400) throw new Error("The value could not be worked out. Confirm again, or type it.");
    if (now) part("result").innerHTML = words;
  });
  const field = (name) => document.getElementById(`id_${now.prefix}${name}`);
  const changed = (input) => { for (const kind of ["input", "change"]) input.dispatchEvent(new Event(kind, { bubbles: true })); };
  const use = (button) => {
    const hidden = field("marks");
    hidden.value = JSON.stringify({ ...JSON.parse(hidden.value || "{}"), [now.kind.name]: sent() });
    const name = button.dataset.field;
    if (!name) { changed(hidden); close(); return; }
    const input = field(name);
    input.value = button.dataset.value;
    const none = section().querySelector(`[name="${now.prefix}${name.replace("_deg", "")}"][value=""]`);
    if (none) none.checked = true;
    if (input.closest("details")) input.closest("details").open = true;
    close();
    changed(input);
    input.focus();
  };
  /* A value typed over the measured one is no measured one any more. */
  const typed = (input) => {
    const box = panelBeside(input);
    const kind = box && Object.values(kindsOf(box)).find((each) => each.field && input.name.endsWith(each.field));
    const hidden = kind && document.getElementById(`id_${input.name.slice(0, -kind.field.length)}marks`);
    if (!hidden || !hidden.value) return;
    const { [kind.name]: gone, ...rest } = JSON.parse(hidden.value);
    if (gone) hidden.value = Object.keys(rest).length ? JSON.stringify(rest) : "";
  };

  /* Listening once for the whole page: the section may be replaced. */
  const actions = { close, camera, undo, confirm, again: () => begin(now.foot, now.prefix, now.kind.name), frame: () => attempt(async () => taken(pictures.frame(part("video")))) };
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.dataset.angleOpen) { close(); panelId = panelBeside(button).id; begin(button.dataset.angleOpen, button.dataset.anglePrefix, part("kind").value); panel().scrollIntoView({ block: "nearest" }); }
    else if (button.dataset.angleUse && now) use(button);
    else if (button.dataset.angleDo && now) actions[button.dataset.angleDo]();
  });
  document.addEventListener("change", (event) => {
    if (!now || !panel().contains(event.target)) return;
    if (event.target === part("kind")) begin(now.foot, now.prefix, part("kind").value);
    else if (event.target === part("file") && event.target.files.length) chosen(event.target.files[0]);
    else redraw();
  });
  document.addEventListener("input", (event) => {
    if (now && event.target === part("slider")) part("video").currentTime = Number(event.target.value);
    else if (event.isTrusted && event.target.name) typed(event.target);
  });
  document.addEventListener("pointerdown", (event) => { if (now && now.picture && event.target === part("canvas")) down(event); });
  document.addEventListener("pointermove", move);
  for (const kind of ["pointerup", "pointercancel"]) document.addEventListener(kind, up);
  document.addEventListener("keydown", (event) => { if (now && event.target === part("canvas")) key(event); }, true);
  /* The section is left: nothing of the picture stays. */
  const left = (event) => { if (now && panel() && event.target instanceof Element && !section().contains(event.target)) close(); };
  for (const kind of ["focusin", "pointerdown"]) document.addEventListener(kind, left, true);
  document.addEventListener("visibilitychange", () => { if (document.visibilityState === "hidden" && now && panel() && part("video").srcObject) { pictures.closeVideo(part("video")); show("stage", false); } });
  window.addEventListener("pagehide", close);
  document.body.addEventListener("htmx:beforeSwap", (event) => { if (event.detail.target && event.detail.target.contains(panel())) close(); });
  const reveal = () => { for (const button of document.querySelectorAll("[data-angle-open]")) button.hidden = false; };
  document.body.addEventListener("htmx:afterSettle", reveal);
  reveal();
})();
