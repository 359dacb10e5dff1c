// The panel in the browser: native controls with names, one request in flight, the newest change waiting.
// It computes nothing: texts, stops and the numbers of the pictures come from Python.

let count = 0;

function make(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== false && value !== null && value !== undefined) node.setAttribute(name, value);
  }
  node.append(...children);
  return node;
}

// Changes go out one message at a time. What happens meanwhile is merged, so that nothing ever queues.
function courier(model) {
  let inFlight = 0, number = 0, waiting = {}, flying = {}, timer = null;
  function flush() {
    if (inFlight || !Object.keys(waiting).length) return;
    inFlight = ++number + Math.floor(Date.now() / 1000) * 1000;
    model.send({ kind: "move", n: inFlight, changes: waiting });
    flying = waiting;
    waiting = {};
    clearTimeout(timer);
    timer = setTimeout(() => { inFlight = 0; flying = {}; flush(); }, 20000); // an answer that was lost must not lock the panel
  }
  return {
    change(field, value) { waiting[field] = value; flush(); },
    answered(n) {
      if (n !== inFlight) return;
      inFlight = 0;
      flying = {};
      clearTimeout(timer);
      flush();
    },
    isOnItsWay(field) { return field in waiting || field in flying; },
  };
}

function sliderRow(control, id, send) {
  const range = make("input", { type: "range", id: `${id}-range`, min: 0, step: 1, "aria-describedby": `${id}-about` });
  const box = make("input", {
    type: "text", id: `${id}-box`, inputmode: "decimal", autocomplete: "off", spellcheck: "false",
    "aria-describedby": `${id}-about`,
  });
  const unit = make("span", { class: "hx-unit" });
  const bands = make("div", { class: "hx-bands", "aria-hidden": "true" });
  const row = make("div", { class: "hx-row", "data-field": control.field },
    make("label", { for: `${id}-range` }, control.label), range, box, unit, bands,
    make("p", { class: "hx-about", id: `${id}-about` }, control.explanation));
  let now = control, dirty = false;

  function speak(at) {
    const band = now.bands.find((one) => at < one.to) || now.bands[now.bands.length - 1];
    const words = at === 0 && now.zero ? now.zero : band ? band.text : "";
    range.setAttribute("aria-valuetext", `${now.stops[at]} ${now.unit}${words ? ", " + words : ""}`);
    for (const [number, node] of [...bands.children].entries()) node.classList.toggle("hx-here", now.bands[number] === band);
  }
  range.addEventListener("input", () => {
    box.value = now.stops[range.valueAsNumber];
    dirty = false;
    speak(range.valueAsNumber);
    send(control.field, now.stops[range.valueAsNumber]);
  });
  box.addEventListener("input", () => { dirty = true; });
  box.addEventListener("change", () => { dirty = false; send(control.field, box.value); });
  return {
    row,
    form(next) {
      now = next;
      range.max = now.stops.length - 1;
      range.setAttribute("aria-label", now.label);
      box.setAttribute("aria-label", `${now.label} in ${now.unit}`);
      unit.textContent = now.unit;
      const share = (at) => `${(100 * at) / (now.stops.length - 1)}%`;
      bands.replaceChildren(...now.bands.map((one) => {
        const node = make("span", {}, one.text);
        node.style.left = share(one.from);
        node.style.width = `calc(${share(one.to)} - ${share(one.from)})`;
        return node;
      }));
    },
    value(shown, wrong) {
      row.hidden = shown.off;
      box.toggleAttribute("aria-invalid", false);
      if (wrong) { box.setAttribute("aria-invalid", "true"); return; }
      if (dirty && document.activeElement === box) return;
      box.value = shown.text;
      range.value = shown.at;
      speak(range.valueAsNumber);
    },
  };
}

function choiceRow(control, id, send) {
  const select = make("select", { id: `${id}-box`, "aria-describedby": `${id}-about` },
    ...control.options.map((text) => make("option", { value: text }, text)));
  select.addEventListener("change", () => send(control.field, select.value));
  const row = make("div", { class: "hx-row hx-choice", "data-field": control.field },
    make("label", { for: `${id}-box` }, control.label), select,
    make("p", { class: "hx-about", id: `${id}-about` }, control.explanation));
  return { row, form() {}, value(shown) { row.hidden = shown.off; select.value = shown.text; select.title = shown.text; } };
}

function render({ model, el }) {
  const id = `hx${++count}`;
  const post = courier(model);
  const send = (field, value) => post.change(field, value);
  const form = model.get("form");

  const button = (label, kind, title) => {
    const node = make("button", { type: "button", title }, label);
    node.addEventListener("click", () => model.send({ kind }));
    return node;
  };
  const undo = button("Undo", "undo", "Take the last change back (Ctrl+Z)");
  const pin = button("Pin", "pin", "Keep this variant to compare against");
  const unpin = button("Unpin", "unpin", "Forget the pinned variant");
  const units = make("select", { id: `${id}-units` }, ...form.all_units.map((text) => make("option", { value: text }, text)));
  units.addEventListener("change", () => model.send({ kind: "units", units: units.value }));
  const copies = form.copies.map(([kind, label, title]) => button(label, kind, title));
  const bar = make("div", { class: "hx-bar", role: "group", "aria-label": "Panel" },
    undo, button("Reset", "reset", "Back to where the panel began"), pin, unpin,
    make("label", { for: `${id}-units` }, "Units"), units, make("span", { class: "hx-gap" }),
    ...copies, button("Save figure", "figure", "Save the pictures as a PNG file"));

  const rows = {}, groups = [];
  for (const control of form.controls) {
    const row = (control.options ? choiceRow : sliderRow)(control, `${id}-${control.field}`, send);
    rows[control.field] = row;
    let group = groups.find((one) => one.name === control.group);
    if (!group) {
      group = { name: control.group, node: make("fieldset", {}, make("legend", {}, control.group)) };
      groups.push(group);
    }
    group.node.append(row.row);
  }
  const controls = make("div", { class: "hx-controls" }, ...groups.map((one) => one.node));

  const mark = make("span", { class: "hx-mark", "aria-hidden": "true" });
  const headline = make("strong"), reason = make("p", { class: "hx-reason" });
  const status = make("p", { class: "hx-hidden", role: "status", "aria-live": "polite" });
  const error = make("p", { class: "hx-error", role: "alert", id: `${id}-error`, hidden: "" });
  const numbers = make("div", { class: "hx-numbers" });
  const answer = make("div", { class: "hx-answer" }, make("p", { class: "hx-head" }, mark, headline), reason);
  const drawn = pictures();
  const caution = make("p", { class: "hx-caution" });
  const view = make("div", { class: "hx-view" }, error, make("div", { class: "hx-top" }, answer, numbers), status,
    drawn.season, make("div", { class: "hx-pair" }, drawn.depth, drawn.speed), caution);

  const text = make("textarea", { readonly: "", rows: 14, "aria-label": "Copied text", spellcheck: "false" });
  const copied = make("p");
  const shut = make("button", { type: "button" }, "Close");
  const sheet = make("div", { class: "hx-sheet", hidden: "" }, copied, text, shut);
  shut.addEventListener("click", () => { sheet.hidden = true; copies[0].focus(); });

  const panel = make("section", { class: "hx", "aria-label": form.title }, bar, sheet,
    make("div", { class: "hx-main" }, controls, view));
  panel.addEventListener("keydown", (event) => {
    const typing = event.target.matches("input[type=text], textarea");
    if ((event.ctrlKey || event.metaKey) && event.key === "z" && !typing) { event.preventDefault(); model.send({ kind: "undo" }); }
    event.stopPropagation(); // the notebook has shortcuts on single letters
  });
  el.replaceChildren(panel);

  function showForm() {
    const next = model.get("form");
    units.value = next.units;
    for (const control of next.controls) rows[control.field].form(control);
    look = { ...look, shown: next.shown };
    draw();
  }
  function show() {
    const told = model.get("told"), values = model.get("values");
    post.answered(told.n);
    for (const [field, row] of Object.entries(rows)) {
      if (!post.isOnItsWay(field) && values[field]) row.value(values[field], told.wrong === field);
    }
    error.hidden = !told.error;
    if (error.textContent !== told.error) error.textContent = told.error;
    answer.dataset.level = told.level;
    mark.textContent = told.mark;
    headline.textContent = told.headline;
    reason.textContent = told.reason;
    if (told.level !== "moving") status.textContent = `${told.headline} ${told.reason}`;
    numbers.innerHTML = told.table; // made and escaped in Python
    caution.textContent = told.caution;
    undo.disabled = !told.can_undo;
    unpin.disabled = !told.pinned;
    drawn.describe(told.alts);
    panel.dataset.n = told.n;
  }
  // What arrives together is shown together: one pass for all that changed.
  let due = false, look = null, runs = {};
  function draw() { drawn.draw(Math.floor(view.clientWidth), runs, look); }
  function refresh() {
    if (due) return;
    due = true;
    queueMicrotask(() => {
      due = false;
      runs = { now: unpack(model.get("now")), pinned: unpack(model.get("pinned")) };
      draw();
      show();
    });
  }
  function take(message, buffers) {
    if (message.kind === "text") {
      text.value = message.text;
      sheet.hidden = false;
      const done = (words) => { copied.textContent = words; };
      if (navigator.clipboard) {
        navigator.clipboard.writeText(message.text).then(
          () => done(`${message.what} is copied; paste it where you want it.`),
          () => { done(`Press Ctrl+C to copy ${message.what}.`); text.focus(); text.select(); });
      } else { done(`Press Ctrl+C to copy ${message.what}.`); text.focus(); text.select(); }
    } else if (message.kind === "file") {
      const address = URL.createObjectURL(new Blob([buffers[0]], { type: "image/png" }));
      make("a", { href: address, download: message.name }).click();
      setTimeout(() => URL.revokeObjectURL(address), 10000);
    }
  }
  const heard = [["change:form", showForm], ["change:values", refresh], ["change:told", refresh],
    ["change:now", refresh], ["change:pinned", refresh], ["msg:custom", take]];
  for (const [what, then] of heard) model.on(what, then);
  const tones = form.look.tones;
  look = { ...form.look, tones: new Uint8Array(tones.buffer, tones.byteOffset, tones.byteLength) };
  showForm();
  refresh();
  let wide = 0;
  const room = new ResizeObserver(() => {
    const width = Math.floor(view.clientWidth);
    if (width > 0 && Math.abs(width - wide) > 2) { wide = width; draw(); }
  });
  room.observe(view);
  return () => {
    room.disconnect();
    for (const [what, then] of heard) model.off(what, then);
  };
}

export default { render };
