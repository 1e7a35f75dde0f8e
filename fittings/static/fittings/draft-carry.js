/* What was at the last fitting, entered with a touch into fields that are still empty. The groups come with the button;
   "#" in a name means the first row of complaints that is still free. */
(() => {
  "use strict";
  const form = document.getElementById("fitting");
  if (!form) return;
  const field = (name) => form.elements.namedItem(name);
  const rowsOf = (group) => {
    const rows = [];
    for (let row = 0; row < 10; row += 1) {
      const named = Object.entries(group).map(([name, value]) => [name.replace("#", row), value]);
      if (field(named[0][0])) rows.push(named);
    }
    return rows;
  };
  const say = (name) => {
    const one = field(name) instanceof RadioNodeList ? form.querySelector("[name='" + name + "']:checked") : field(name);
    const more = one.closest("details");
    if (more) more.open = true;
    for (const kind of ["input", "change"]) one.dispatchEvent(new Event(kind, { bubbles: true }));
  };
  const take = (group) => {
    const rows = rowsOf(group);
    if (rows.some((row) => row.every(([name, value]) => field(name).value === value))) return;
    const free = rows.find((row) => !field(row[0][0]).value);
    for (const [name, value] of free || []) field(name).value = value;
    if (free) say(free[0][0]);
  };
  form.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-fields]");
    if (!button) return;
    event.preventDefault();
    for (const group of JSON.parse(button.dataset.fields)) take(group);
    button.textContent = button.textContent.replace("Copy", "Copied:");
  });
})();
