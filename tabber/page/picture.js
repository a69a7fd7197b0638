// The picture: the harp's notes as lanes, what the tab says as bars on them, what was
// heard as a line, the waveform below. Blow bars are plain, draw bars are hatched.

const picture = document.getElementById("picture");
const canvas = document.getElementById("canvas");
const pen = canvas.getContext("2d");
const view = { scale: 0.13, width: 0, height: 0, lane: 18, low: 0, high: 0, follow: 0, selected: null, colors: {} };
const gutter = 62; // px left of the lanes, for their names
const ruler = 40; // px above them, for bars and phrases
const waveHeight = 56;

const wave = bytesOf(data.wave);
const curve = new Int16Array(bytesOf(data.curve).buffer);
const xOf = (ms) => gutter + (ms - data.from) * view.scale - picture.scrollLeft;
const timeOf = (x) => data.from + (x - gutter + picture.scrollLeft) / view.scale;
const yOf = (note) => ruler + (view.high - note + 0.5) * view.lane;

// room is how high the picture may be, so that the harp and a phrase stand beside it.
const room = () => (matchMedia("(max-width: 560px)").matches ? 380 : clamp(innerHeight - 460, 320, 560));

// measure fits the lanes to what is played and the picture to the window.
function measure() {
	if (!picture.clientWidth) return; // not on screen, such as on paper
	const notes = eventsOf(doc.lines).flatMap((e) => e.notes);
	const known = data.cells.map((c) => c.midi);
	view.low = Math.min(...(notes.length ? notes : known)) - 2;
	view.high = Math.max(...(notes.length ? notes : known)) + 2;
	const lanes = view.high - view.low + 1;
	view.lane = clamp(Math.floor((room() - ruler - waveHeight) / lanes), 8, 24);
	view.width = picture.clientWidth;
	view.height = ruler + lanes * view.lane + waveHeight;
	document.getElementById("run").style.width = Math.ceil(gutter + (data.to - data.from) * view.scale + 24) + "px";
	const ratio = devicePixelRatio || 1;
	canvas.width = view.width * ratio;
	canvas.height = view.height * ratio;
	canvas.style.width = view.width + "px";
	canvas.style.height = view.height + "px";
	pen.setTransform(ratio, 0, 0, ratio, 0, 0);
	const style = getComputedStyle(document.documentElement);
	for (const name of ["paper", "card", "ink", "soft", "line", "brass", "blow", "draw", "loop"]) view.colors[name] = style.getPropertyValue("--" + name);
	view.hatch = hatch(view.colors.draw);
	draw();
}

// hatch is the filling of draw notes.
function hatch(color) {
	const tile = new OffscreenCanvas(6, 6);
	const p = tile.getContext("2d");
	p.strokeStyle = color;
	p.lineWidth = 1.4;
	p.beginPath();
	for (const x of [-6, 0, 6]) {
		p.moveTo(x, 6);
		p.lineTo(x + 6, 0);
	}
	p.stroke();
	return pen.createPattern(tile, "repeat");
}

let asked = false;
function draw() {
	if (asked) return;
	asked = true;
	requestAnimationFrame(() => {
		asked = false;
		paint();
	});
}

function paint() {
	pen.clearRect(0, 0, view.width, view.height);
	pen.save();
	pen.beginPath();
	pen.rect(gutter, 0, view.width - gutter, view.height);
	pen.clip();
	paintPhrases();
	paintLanes(gutter, view.width);
	paintLoop();
	paintBars();
	paintCounted();
	paintWave();
	const shown = eventsOf(doc.lines).filter((e) => xOf(e.end) > gutter && xOf(e.start) < view.width);
	for (const e of shown) paintEvent(e);
	paintCurve();
	paintLabels(shown);
	const x = xOf(player.now);
	pen.fillStyle = view.colors.ink;
	pen.fillRect(x - 1, ruler - 6, 2, view.height);
	pen.restore();
	paintNames();
}

function paintPhrases() {
	pen.font = "12px system-ui, sans-serif";
	pen.textBaseline = "middle";
	let free = -Infinity;
	for (const l of doc.lines) {
		if (l.kind !== "phrase") continue;
		const [a, b] = [xOf(l.start), xOf(l.end)];
		if (b < gutter || a > view.width) continue;
		pen.fillStyle = view.colors.card;
		pen.fillRect(a, ruler - 2, b - a, view.height);
		pen.fillStyle = view.colors.soft;
		pen.fillRect(a, ruler - 4, b - a, 2);
		const x = Math.max(a, Math.min(gutter + 4, b - 60));
		const words = `Phrase ${l.number}`;
		if (x < free) continue; // too close to the one before
		pen.fillText(words, x, ruler - 12);
		free = x + pen.measureText(words).width + 6;
	}
}

// lanes are the notes that the harp has, by pitch; overbends where nothing else is.
const lanes = new Map();
for (const c of data.cells.filter((c) => c.bend >= 0)) lanes.set(c.midi, [...(lanes.get(c.midi) ?? []), c]);

function paintLanes(from, to) {
	for (let note = view.low; note <= view.high; note++) {
		const natural = lanes.get(note)?.find((c) => c.bend === 0);
		if (!lanes.has(note)) continue;
		pen.globalAlpha = natural ? 0.5 : 0.3;
		pen.strokeStyle = natural ? view.colors[natural.breath] : view.colors.soft;
		pen.setLineDash(natural ? [] : [2, 4]);
		pen.lineWidth = 1;
		const y = Math.round(yOf(note)) + 0.5;
		pen.beginPath();
		pen.moveTo(from, y);
		pen.lineTo(to, y);
		pen.stroke();
	}
	pen.setLineDash([]);
	pen.globalAlpha = 1;
}

// paintNames writes the lanes' names at the left edge.
function paintNames() {
	pen.fillStyle = view.colors.paper;
	pen.fillRect(0, 0, gutter, view.height);
	pen.textBaseline = "middle";
	pen.textAlign = "right";
	const natural = (note) => lanes.get(note)?.some((c) => c.bend === 0);
	const notes = [...lanes.keys()].filter((n) => n >= view.low && n <= view.high).sort((a, b) => natural(b) - natural(a) || b - a);
	const taken = [];
	for (const note of notes) {
		const size = natural(note) ? Math.min(14, view.lane + 3) : Math.min(12, view.lane + 1);
		const apart = natural(note) ? 0.7 * size : size + 2;
		if (taken.some((y) => Math.abs(y - yOf(note)) < apart)) continue; // no room for its name
		taken.push(yOf(note));
		pen.font = `${natural(note) ? "bold " : ""}${size}px system-ui, sans-serif`;
		pen.fillStyle = natural(note) ? view.colors.ink : view.colors.soft;
		const shown = lanes.get(note).filter((c) => !natural(note) || c.bend === 0);
		pen.fillText(shown.map((c) => c.tab).join(" "), gutter - 8, yOf(note));
	}
	pen.textAlign = "left";
}

function paintLoop() {
	if (!player.loop) return;
	const [a, b] = [xOf(player.loop.from), xOf(player.loop.to)];
	pen.globalAlpha = matchMedia("(forced-colors: active)").matches ? 0.25 : 1;
	pen.fillStyle = view.colors.loop;
	pen.fillRect(a, 0, b - a, view.height);
	pen.globalAlpha = 1;
	pen.fillStyle = view.colors.brass;
	pen.fillRect(a - 1, 0, 2, view.height);
	pen.fillRect(b - 1, 0, 2, view.height);
}

// paintBars draws beats and bar lines, or seconds where no bars are known.
function paintBars() {
	const counted = grid.places.length > 0;
	const marks = counted ? grid.beats.map((at) => ({ at, strong: false, name: "" })) : [];
	for (let s = Math.ceil(data.from / 1000); !counted && s <= data.to / 1000; s++) {
		marks.push({ at: 1000 * s, strong: false, name: s % 2 ? "" : shortClock(s) });
	}
	const by = pointer.bar && pointer.dragged ? pointer.by : 0;
	for (const l of barLines()) {
		const one = $("one").getAttribute("aria-pressed") === "true";
		marks.push({ at: l.start + (one && l !== pointer.bar ? 0 : by), strong: true, name: `${l.number}  ${l.chord}`.trimEnd() });
	}
	pen.font = "bold 13px system-ui, sans-serif";
	let free = -Infinity;
	for (const m of marks) {
		const x = xOf(m.at);
		if (x < gutter - 60 || x > view.width) continue;
		pen.fillStyle = m.strong ? view.colors.soft : view.colors.line;
		pen.fillRect(Math.round(x), m.name ? 4 : ruler - 2, 1, view.height);
		pen.fillStyle = view.colors.soft;
		if (!m.name || x < free) continue;
		pen.fillText(m.name, x + 5, 12);
		free = x + 8 + pen.measureText(m.name).width;
	}
}

function paintWave() {
	const middle = view.height - waveHeight / 2;
	pen.fillStyle = view.colors.soft;
	pen.globalAlpha = 0.6;
	for (let x = gutter; x < view.width; x++) {
		const from = Math.floor((timeOf(x) - data.from) / data.waveMS);
		const to = Math.max(from + 1, Math.floor((timeOf(x + 1) - data.from) / data.waveMS));
		let top = 0;
		for (let i = Math.max(0, from); i < Math.min(to, wave.length); i++) top = Math.max(top, wave[i]);
		const h = Math.max(0.5, (top / 255) * (waveHeight / 2 - 3));
		pen.fillRect(x, middle - h, 1, 2 * h);
	}
	pen.globalAlpha = 1;
}

const breathOf = (e) => (e.tab.startsWith("{") ? "soft" : e.tab.includes("-") ? "draw" : "blow");

function paintEvent(e) {
	const now = player.now;
	const lit = now >= e.start && now < e.end;
	const color = view.colors[breathOf(e)];
	const [a, b] = [xOf(e.start) + 0.5, xOf(e.end) - 0.5];
	const high = view.lane * 0.72;
	pen.lineWidth = 1.5;
	for (const n of e.notes) {
		const y = yOf(n) - high / 2;
		pen.beginPath();
		pen.roundRect(a, y, Math.max(2, b - a), high, 3);
		pen.fillStyle = view.colors.card;
		pen.fill();
		pen.globalAlpha = lit ? 1 : 0.35;
		pen.fillStyle = !lit && breathOf(e) === "draw" ? view.hatch : color;
		pen.fill();
		pen.globalAlpha = 1;
		pen.strokeStyle = color;
		pen.setLineDash(e.doubt ? [4, 3] : []);
		pen.stroke();
		pen.setLineDash([]);
	}
	const top = Math.max(...e.notes);
	if (e === view.selected) paintSelected(a, b, yOf(top) - high / 2, yOf(Math.min(...e.notes)) + high / 2);
}

const labelHigh = 15; // px

// paintLabels writes the tab at the notes, the chosen one first. A label gives way to those
// before it: above the note, below it, further off; where there is no room it is left out,
// and the lane says what it is. It stays in sight as long as its note does.
function paintLabels(events) {
	const taken = [];
	const free = (b) => b.top > ruler && b.bottom < view.height - waveHeight + 8 &&
		!taken.some((t) => b.left < t.right && t.left < b.right && b.top < t.bottom && t.top < b.bottom);
	pen.font = "bold 14px system-ui, sans-serif";
	pen.lineWidth = 4;
	pen.strokeStyle = view.colors.card;
	pen.fillStyle = view.colors.ink;
	for (const e of [...events].sort((a, b) => (b === view.selected) - (a === view.selected))) {
		const name = e.tab.replace(/[{}]/g, "") + (e.doubt ? " ?" : "");
		const width = pen.measureText(name).width + 4;
		const left = Math.max(xOf(e.start), Math.min(gutter + 2, xOf(e.end) - width));
		const half = view.lane * 0.36;
		const above = yOf(Math.max(...e.notes)) - half - 9;
		const below = yOf(Math.min(...e.notes)) + half + 9;
		const box = (y) => ({ left, right: left + width, top: y - labelHigh / 2, bottom: y + labelHigh / 2, y });
		const place = [above, below, above - labelHigh, below + labelHigh, above - 2 * labelHigh].map(box).find(free);
		if (!place) continue;
		taken.push(place);
		pen.strokeText(name, left, place.y);
		pen.fillText(name, left, place.y);
	}
}

function paintSelected(a, b, top, bottom) {
	pen.strokeStyle = pen.fillStyle = view.colors.ink;
	pen.lineWidth = 2;
	pen.strokeRect(a - 3, top - 3, b - a + 6, bottom - top + 6);
	for (const x of [a - 3, b + 3]) pen.fillRect(x - 3, (top + bottom) / 2 - 7, 6, 14);
}

// paintCurve joins what was heard from frame to frame while it goes on.
function paintCurve() {
	const first = Math.max(0, Math.floor((timeOf(gutter) - data.from) / data.curveMS) - 1);
	const last = Math.min(curve.length / data.voices - 1, Math.ceil((timeOf(view.width) - data.from) / data.curveMS));
	pen.lineCap = pen.lineJoin = "round";
	pen.beginPath();
	for (let i = first; i < last; i++) {
		for (let v = 0; v < data.voices; v++) {
			const cents = curve[i * data.voices + v];
			if (!cents) continue;
			const next = curve.subarray((i + 1) * data.voices, (i + 2) * data.voices).find((c) => c && Math.abs(c - cents) < 70);
			if (!next) continue;
			pen.moveTo(xOf(data.from + i * data.curveMS), yOf(cents / 100));
			pen.lineTo(xOf(data.from + (i + 1) * data.curveMS), yOf(next / 100));
		}
	}
	for (const [width, color] of [[5, view.colors.card], [2.5, view.colors.ink]]) {
		pen.lineWidth = width;
		pen.strokeStyle = color;
		pen.stroke();
	}
}

// heardIn is the median of what was heard in a stretch, as a MIDI number; null for
// nothing.
function heardIn(from, to) {
	const frame = (ms) => Math.round((ms - data.from) / data.curveMS) * data.voices;
	const heard = [...curve.subarray(Math.max(0, frame(from)), frame(to))].filter(Boolean).sort((a, b) => a - b);
	return heard.length ? heard[heard.length >> 1] / 100 : null;
}

// show scrolls to a time, without hurry while it plays.
function show(ms, playing) {
	const x = gutter + (ms - data.from) * view.scale;
	const inside = x - picture.scrollLeft;
	if (playing) {
		if (performance.now() > view.follow) picture.scrollLeft = x - view.width * 0.4;
	} else if (inside < gutter + 20 || inside > view.width - 60) {
		picture.scrollLeft = x - view.width * 0.3;
	}
}

function zoom(factor) {
	const middle = player.now;
	view.scale = clamp(view.scale * factor, 0.03, 0.6);
	measure();
	picture.scrollLeft = (middle - data.from) * view.scale - view.width * 0.3;
}

// Mouse and touch: a click goes there, a drag makes a stretch or moves an end of the
// chosen note.
const pointer = { down: null, end: "", bar: null, by: 0 };

// barUnder is the bar whose number is there.
const barUnder = (x, y) => (y > 22 ? null : barLines().find((b) => x > xOf(b.start) - 6 && x < xOf(b.start) + 34) ?? null);

function endUnder(x) {
	const e = view.selected;
	if (!e) return "";
	if (Math.abs(x - xOf(e.start) + 3) < 7) return "start";
	return Math.abs(x - xOf(e.end) - 3) < 7 ? "end" : "";
}

canvas.addEventListener("pointerdown", (ev) => {
	if (ev.button !== 0 || ev.offsetX < gutter) return;
	canvas.setPointerCapture(ev.pointerId);
	pointer.down = ev.offsetX;
	pointer.bar = barUnder(ev.offsetX, ev.offsetY);
	pointer.end = pointer.bar ? "" : endUnder(ev.offsetX);
	pointer.dragged = null;
});
canvas.addEventListener("pointermove", (ev) => {
	canvas.style.cursor = endUnder(ev.offsetX) || barUnder(ev.offsetX, ev.offsetY) || pointer.bar ? "ew-resize" : "default";
	if (pointer.down === null || (Math.abs(ev.offsetX - pointer.down) < 5 && !pointer.dragged)) return;
	const [a, b] = [timeOf(pointer.down), timeOf(ev.offsetX)].sort((p, q) => p - q);
	pointer.dragged = { from: clamp(a, data.from, data.to), to: clamp(b, data.from, data.to), name: "", at: timeOf(ev.offsetX) };
	pointer.by = (ev.offsetX - pointer.down) / view.scale;
	if (!pointer.end && !pointer.bar && pointer.dragged.to - pointer.dragged.from > 50) player.loop = pointer.dragged;
	draw();
});
canvas.addEventListener("pointerup", (ev) => {
	if (pointer.down === null) return;
	pointer.down = null;
	const bar = pointer.bar;
	pointer.bar = null;
	if (bar && pointer.dragged) moveGrid(pointer.by, bar);
	else if (!pointer.dragged) clicked(timeOf(ev.offsetX), view.high + 0.5 - (ev.offsetY - ruler) / view.lane);
	else if (pointer.end) moveEnd(pointer.end, pointer.dragged.at);
	else setLoop(player.loop);
});
canvas.addEventListener("pointercancel", () => (pointer.down = pointer.bar = null));
for (const kind of ["wheel", "pointerdown"]) picture.addEventListener(kind, () => (view.follow = performance.now() + 3000), { passive: true });
picture.addEventListener("scroll", draw);
addEventListener("resize", measure);
for (const query of ["(prefers-color-scheme: dark)", "(forced-colors: active)"]) matchMedia(query).addEventListener("change", measure);
