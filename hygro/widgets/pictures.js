// The three pictures, drawn from a run's days on canvases of the width there is. Numbers and colours come from Python.

const LETTERS = 'system-ui, "Segoe UI", "DejaVu Sans", sans-serif';
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const DAY = 86400000;
const SPEEDS = [10, 20, 40, 60, 80, 120, 160, 200, 300, 400, 600, 800, 1200, 2000, 4000]; // tops of the axis

// A run as Python packs it; null for none.
function unpack(sent) {
  if (!sent || !sent.days) return null;
  const floats = (view) => new Float32Array(view.buffer.slice(view.byteOffset, view.byteOffset + view.byteLength));
  const cells = floats(sent.cells);
  return {
    start: sent.start, days: sent.days, wood: sent.wood, parts: sent.parts, cells, depth: cells[cells.length - 1],
    content: floats(sent.content), speed: sent.speed.byteLength ? floats(sent.speed) : null,
    humidity: new Uint8Array(sent.humidity.buffer, sent.humidity.byteOffset, sent.humidity.byteLength),
  };
}

// A canvas as sharp as the screen, and a pen on it that counts in its own pixels.
function surface(canvas, width, height) {
  const sharp = window.devicePixelRatio || 1, wide = Math.round(width * sharp), high = Math.round(height * sharp);
  if (canvas.width !== wide || canvas.height !== high) {
    canvas.width = wide;
    canvas.height = high;
    canvas.style.width = `${width}px`;
    canvas.style.height = `${height}px`;
  }
  const pen = canvas.getContext("2d");
  pen.setTransform(sharp, 0, 0, sharp, 0, 0);
  pen.fillStyle = "#fff";
  pen.fillRect(0, 0, width, height);
  return pen;
}

function write(pen, text, x, y, { size = 12, bold = false, colour, align = "left", base = "middle" }) {
  pen.font = `${bold ? "bold " : ""}${size}px ${LETTERS}`;
  pen.fillStyle = colour;
  pen.textAlign = align;
  pen.textBaseline = base;
  pen.fillText(text, x, y);
}

function stroke(pen, colour, width, points, dashes = []) {
  pen.strokeStyle = colour;
  pen.lineWidth = width;
  pen.setLineDash(dashes);
  pen.beginPath();
  points.forEach(([x, y], number) => (number ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  pen.stroke();
  pen.setLineDash([]);
}

// Round steps of which three to five reach the top.
function ticks(top) {
  const raw = top / 4, power = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 2.5, 5, 10].map((one) => one * power).find((one) => one >= 0.999 * raw);
  return Array.from({ length: Math.floor(top / step + 1.001) }, (_, number) => Number((number * step).toPrecision(6)));
}

// The lowest of a ladder of tops that holds the highest value, so that the axis seldom moves.
const above = (ladder, highest) => ladder.find((one) => one >= highest) || 1.1 * highest;

function levels(pen, box, top, unit, look) {
  for (const value of ticks(top)) {
    const y = box.bottom - (value / top) * (box.bottom - box.top);
    stroke(pen, look.grid, 1, [[box.left, y], [box.right, y]]);
    write(pen, `${value}`, box.left - 6, y, { colour: look.ink, align: "right" });
  }
  write(pen, unit, 4, box.top - 14, { colour: look.ink, base: "middle" });
}

function frame(pen, box, look) {
  stroke(pen, look.quiet, 1, [[box.left, box.top], [box.left, box.bottom], [box.right, box.bottom]]);
}

// Months below a box; every one, or as many as there is room for.
function months(pen, box, run, look) {
  const end = run.start + run.days * DAY, at = (time) => box.left + ((time - run.start) / (end - run.start)) * (box.right - box.left);
  const count = Math.max(run.days / 30.4, 1), room = (box.right - box.left) / count;
  const step = [1, 2, 3, 6, 12].find((one) => one * room >= 34) || 12;
  const first = new Date(run.start);
  let year = null;
  for (let month = 0; month <= count + 1; month += 1) {
    const time = Date.UTC(first.getUTCFullYear(), first.getUTCMonth() + month, 1);
    if (time < run.start || time > end) continue;
    const named = (first.getUTCMonth() + month) % step === first.getUTCMonth() % step, day = new Date(time);
    stroke(pen, look.quiet, 1, [[at(time), box.bottom], [at(time), box.bottom + (named ? 5 : 3)]]);
    if (!named || at(time) > box.right - 10) continue;
    write(pen, MONTHS[day.getUTCMonth()], at(time), box.bottom + 13, { size: 11.5, colour: look.ink, align: "center" });
    if (day.getUTCFullYear() !== year) {
      year = day.getUTCFullYear();
      write(pen, `${year}`, at(time), box.bottom + 26, { size: 11.5, colour: look.ink, align: "center" });
    }
  }
}

// Names at the right ends of lines, moved apart.
function nameEnds(pen, box, ends) {
  const least = 14, order = [...ends].sort((one, other) => one.y - other.y);
  order.forEach((one, number) => { if (number) one.y = Math.max(one.y, order[number - 1].y + least); });
  let lowest = box.bottom - 5;
  for (const one of [...order].reverse()) {
    one.y = Math.min(one.y, lowest);
    lowest = one.y - least;
  }
  for (const one of order) write(pen, one.name, box.right + 6, one.y, { colour: one.colour, bold: true });
}

function marks(pen, points, from, colour, square) {
  pen.fillStyle = colour;
  for (let number = from; number < points.length; number += 91) {
    const [x, y] = points[number];
    pen.beginPath();
    if (square) pen.rect(x - 3.5, y - 3.5, 7, 7);
    else pen.arc(x, y, 3.8, 0, 7);
    pen.fill();
  }
}

function drawSeason(canvas, width, runs, look) {
  const height = 215, pen = surface(canvas, width, height), box = { left: 42, top: 40, right: width - 58, bottom: height - 36 };
  const now = runs.now, listed = Object.entries(runs).filter(([, run]) => run);
  const highest = Math.max(...listed.map(([, run]) => run.content.reduce((most, one) => Math.max(most, one), 0)));
  const top = above([32, 40, 60, 80, 120, 180, 260, 400], 1.02 * highest);
  const y = (value) => box.bottom - (value / top) * (box.bottom - box.top);
  write(pen, look.title, 4, 11, { bold: true, size: 13, colour: look.ink });
  if (now.wood) {
    look.limits.forEach((limit, number) => {
      const next = look.limits[number + 1];
      pen.fillStyle = limit.fill;
      pen.fillRect(box.left, y(next ? next.value : top), box.right - box.left, y(limit.value) - y(next ? next.value : top));
    });
  }
  levels(pen, box, top, "% of dry mass", look);
  if (now.wood) {
    for (const limit of look.limits) {
      stroke(pen, look.quiet, 1.2, [[box.left, y(limit.value)], [box.right, y(limit.value)]]);
      write(pen, limit.text, box.left + 6, y(limit.value) - 8, { size: 11, colour: "#4a4036" });
    }
  }
  months(pen, box, now, look);
  frame(pen, box, look);
  const ends = listed.map(([name, run], number) => {
    const points = Array.from(run.content, (value, day) => [box.left + ((day + 0.5) / run.days) * (box.right - box.left), y(value)]);
    stroke(pen, look.lines[number].colour, 2.2, points, look.lines[number].dashes);
    marks(pen, points, 20 + 30 * number, look.lines[number].colour, number > 0);
    return { name, colour: look.lines[number].colour, y: points[points.length - 1][1] };
  });
  nameEnds(pen, box, ends);
}

function drawSpeed(canvas, width, runs, look) {
  const height = 272, pen = surface(canvas, width, height), box = { left: 42, top: 54, right: width - 58, bottom: height - 40 };
  const vented = Object.entries(runs).filter(([, run]) => run && run.speed);
  const { unit, factor } = look.shown.speed;
  const top = above(SPEEDS, Math.max(0, ...vented.map(([, run]) => factor * run.speed[0])));
  write(pen, "Air speed in the gap", 4, 11, { bold: true, size: 13, colour: look.ink });
  if (vented.length) levels(pen, box, top, unit, look);
  frame(pen, box, look);
  const x = (share) => box.left + (share / 100) * (box.right - box.left);
  for (const share of width > 260 ? [0, 25, 50, 75, 100] : [0, 50, 100]) {
    stroke(pen, look.quiet, 1, [[x(share), box.bottom], [x(share), box.bottom + 4]]);
    write(pen, `${share}`, x(share), box.bottom + 13, { size: 11.5, colour: look.ink, align: "center" });
  }
  write(pen, "% of hours at least this fast", (box.left + box.right) / 2, box.bottom + 30, { size: 11.5, colour: look.ink, align: "center" });
  if (!vented.length) write(pen, "no vent gap", (box.left + box.right) / 2, (box.top + box.bottom) / 2, { colour: look.ink, align: "center" });
  const ends = vented.map(([name, run]) => {
    const number = name === "now" ? 0 : 1;
    const points = Array.from(run.speed, (value, at) => [x((100 * (at + 1)) / run.speed.length), box.bottom - ((factor * value) / top) * (box.bottom - box.top)]);
    stroke(pen, look.lines[number].colour, 2.2, points, look.lines[number].dashes);
    return { name, colour: look.lines[number].colour, y: points[points.length - 1][1] };
  });
  nameEnds(pen, box, ends);
}

// Strokes or dots of a layer, by what it is filled with.
function hatch(pen, left, top, width, height, kind, ink) {
  pen.save();
  pen.beginPath();
  pen.rect(left, top, width, height);
  pen.clip();
  if (kind === "/") {
    for (let x = left - height; x < left + width; x += 7) stroke(pen, ink, 0.8, [[x, top + height], [x + height, top]]);
  } else if (kind === ".") {
    pen.fillStyle = ink;
    for (let y = top + 5; y < top + height; y += 9) {
      for (let x = left + (Math.round((y - top) / 9) % 2 ? 4 : 9); x < left + width; x += 10) pen.fillRect(x, y, 1.3, 1.3);
    }
  }
  pen.restore();
}

function section(pen, box, run, look) {
  const y = (depth) => box.top + (depth / run.depth) * (box.bottom - box.top);
  let at = 0;
  const names = run.parts.map((part) => {
    const top = y(at);
    at += part.thickness;
    const bottom = y(at);
    if (part.kind !== "sheet") {
      pen.fillStyle = part.fill;
      pen.fillRect(box.left, top, box.right - box.left, bottom - top);
      hatch(pen, box.left, top, box.right - box.left, bottom - top, part.hatch, look.ink);
      pen.strokeStyle = look.ink;
      pen.lineWidth = 0.8;
      pen.strokeRect(box.left, top, box.right - box.left, bottom - top);
    }
    return { text: part.name, middle: (top + bottom) / 2, y: (top + bottom) / 2, sheet: part.kind === "sheet" };
  });
  for (const one of names) if (one.sheet) stroke(pen, look.ink, 2.6, [[box.left - 4, one.middle], [box.right + 4, one.middle]]);
  const least = Math.min(16, (box.bottom - box.top) / names.length);
  names.forEach((one, number) => { one.y = Math.max(one.y, number ? names[number - 1].y + least : box.top + 6); });
  let lowest = box.bottom - 4;
  for (const one of [...names].reverse()) {
    one.y = Math.min(one.y, lowest);
    lowest = one.y - least;
  }
  const room = box.left - 20;
  for (const one of names) {
    stroke(pen, look.quiet, 1, [[box.left - 14, one.y], [box.left - 3, one.middle]]);
    pen.font = `12px ${LETTERS}`;
    let text = one.text;
    while (text.length > 4 && pen.measureText(text).width > room) text = `${text.slice(0, -2).trimEnd()}…`;
    write(pen, text, box.left - 17, one.y, { colour: look.ink, align: "right" });
  }
  const middle = (box.left + box.right) / 2, { unit, factor, decimals } = look.shown.depth;
  write(pen, "outside", middle, box.top - 9, { size: 11.5, colour: look.ink, align: "center" });
  write(pen, "inside", middle, box.bottom + 12, { size: 11.5, colour: look.ink, align: "center" });
  write(pen, `in all ${(factor * run.depth).toFixed(decimals)} ${unit}`, box.left - 17, box.bottom + 12, { size: 11.5, colour: look.ink, align: "right" });
}

const sheetOfDays = document.createElement("canvas"); // one row a cell, one column a day; stretched into place

function dampness(pen, box, run, look) {
  const count = run.cells.length / 2, days = run.days, tones = look.tones;
  sheetOfDays.width = days;
  sheetOfDays.height = count;
  const brush = sheetOfDays.getContext("2d"), picture = brush.createImageData(days, count), data = picture.data;
  for (let at = 0, to = 0; at < days * count; at += 1, to += 4) {
    const tone = 3 * run.humidity[at];
    data[to] = tones[tone];
    data[to + 1] = tones[tone + 1];
    data[to + 2] = tones[tone + 2];
    data[to + 3] = 255;
  }
  brush.putImageData(picture, 0, 0);
  const y = (depth) => box.top + (depth / run.depth) * (box.bottom - box.top);
  pen.imageSmoothingEnabled = false;
  for (let cell = 0; cell < count; cell += 1) {
    const top = y(run.cells[2 * cell]), bottom = y(run.cells[2 * cell + 1]);
    pen.drawImage(sheetOfDays, 0, cell, days, 1, box.left, top, box.right - box.left, bottom - top + 0.3);
  }
}

function drawDepth(canvas, width, runs, look) {
  const height = 272, pen = surface(canvas, width, height), run = runs.now, names = width > 400 ? 148 : 112;
  const drawing = { left: names, top: 42, right: names + 40, bottom: height - 36 };
  const map = { left: drawing.right + 20, top: drawing.top, right: width - 14, bottom: drawing.bottom };
  write(pen, "Humidity by depth", 4, 11, { bold: true, size: 13, colour: look.ink });
  section(pen, drawing, run, look);
  dampness(pen, map, run, look);
  months(pen, map, run, look);
  frame(pen, map, look);
  const scale = { left: width - 124, right: width - 52 };
  for (let x = scale.left; x < scale.right; x += 1) {
    const tone = 3 * Math.round((255 * (x - scale.left)) / (scale.right - scale.left - 1));
    pen.fillStyle = `rgb(${look.tones[tone]},${look.tones[tone + 1]},${look.tones[tone + 2]})`;
    pen.fillRect(x, 5, 1, 12);
  }
  write(pen, "dry 0 %", scale.left - 5, 11, { size: 11.5, colour: look.ink, align: "right" });
  write(pen, "100 %", scale.right + 5, 11, { size: 11.5, colour: look.ink });
}

// Three canvases that know how to draw themselves.
function pictures() {
  const canvases = Object.fromEntries(["season", "depth", "speed"].map((name) => {
    const canvas = document.createElement("canvas");
    canvas.className = `hx-${name}`;
    canvas.setAttribute("role", "img");
    return [name, canvas];
  }));
  return {
    ...canvases,
    describe(alts) { for (const [name, canvas] of Object.entries(canvases)) canvas.setAttribute("aria-label", alts[name]); },
    draw(width, runs, look) {
      if (!runs.now || width < 60) return;
      const speed = Math.max(200, Math.round(0.34 * width)), stacked = width < 420;
      drawSeason(canvases.season, width, runs, look);
      drawDepth(canvases.depth, stacked ? width : width - speed, runs, look);
      drawSpeed(canvases.speed, stacked ? width : speed, runs, look);
    },
  };
}
