// The grid of bars and beats, and moving it. Times are milliseconds.

const grid = { beats: data.beats, places: data.places };

const barLines = () => doc.lines.filter((l) => l.kind === "bar");

// headLine is a line of the header, headed its value: empty if there is none.
const headLine = (name) => doc.lines.find((l) => l.kind === "text" && l.text.startsWith(name + ":"));
const headed = (name) => headLine(name)?.text.slice(name.length + 1).trim() ?? "";

// head writes a line of the header; one that is new stands below another.
function head(name, value, below) {
	const text = `${name}:`.padEnd(11) + value;
	const line = headLine(name);
	if (line) line.text = text;
	else doc.lines.splice(doc.lines.indexOf(headLine(below)) + 1, 0, { ...empty, kind: "text", text });
}

const tempo = () => parseFloat(headed("tempo")) || 0; // beats a minute, 0 if it is not known
const meter = () => data.meters.find((m) => m.name === headed("meter")) ?? data.meters[0];

// regrid works out beats and places anew from the bar lines; without any they are those
// of the tab as it came, which had none.
function regrid() {
	const bars = barLines();
	if (!bars.length) return Object.assign(grid, { beats: data.beats, places: data.places });
	const { beats: n, parts } = meter();
	const long = (i) => { // of a beat in bar i; the last bar is as long as the one before
		const k = Math.min(i, Math.max(0, bars.length - 2));
		return k + 1 < bars.length ? (bars[k + 1].start - bars[k].start) / n : 60000 / tempo();
	};
	const at = (beat) => { // beats and parts of them, from the first bar line on
		const i = clamp(Math.floor(beat / n), 0, bars.length - 1);
		return bars[i].start + (beat - i * n) * long(i);
	};
	const beatOf = (ms) => {
		const i = Math.max(0, bars.findLastIndex((b) => b.start <= ms));
		return i * n + (ms - bars[i].start) / long(i);
	};
	grid.beats = [];
	grid.places = [];
	for (let k = Math.floor(beatOf(data.from)); k <= Math.ceil(beatOf(data.to)); k++) {
		if (at(k) >= 0) grid.beats.push(at(k));
		const bar = Math.floor(k / n);
		for (const part of parts) {
			const ms = at(bar * n + (k - bar * n) + part / 12);
			if (ms >= 0) grid.places.push({ at: Math.round(ms), name: placeName(bars[0].number + bar, k - bar * n + 1, part) });
		}
	}
}

// placeName writes a place as the document does: 5|3+2/3.
function placeName(bar, beat, twelfths) {
	if (!twelfths) return `${bar}|${beat}`;
	let [n, d] = [twelfths, 12];
	for (const f of [2, 2, 3]) if (n % f === 0 && d % f === 0) [n, d] = [n / f, d / f];
	return `${bar}|${beat}+${n}/${d}`;
}

const leastBar = 200; // ms between bar lines

// moveBars moves all bar lines, or one, by so many ms; those that are moved have no doubt
// any more. What would lie before the recording is dropped. It returns why that is impossible, or nothing.
function moveBars(by, one = null) {
	const bars = barLines();
	const moved = bars.map((b) => (one === null || b === one ? b.start + Math.round(by) : b.start));
	if (moved.some((s, i) => i && s - moved[i - 1] < leastBar)) return "Not possible: the bar line would meet its neighbour.";
	if (one && moved[bars.indexOf(one)] < 0) return "Not possible: the bar would begin before the recording.";
	if (moved.every((s) => s < 0)) return "Not possible: no bar would be left.";
	change(() => {
		bars.forEach((b, i) => {
			if (b.start === moved[i]) return;
			b.start = moved[i];
			b.text = barText(b);
		});
		layBars(bars.filter((b) => b.start >= 0));
		placeEvents();
	});
	return "";
}

const barText = (b) => `bar ${b.number}  ${clock(b.start)}  ${b.chord}`.trimEnd();

// firstBars lays bars over a tab that has none, as tab.LayBars does: bar 1 begins at a time,
// others before and after it at the tempo, in a meter of that name.
function firstBars(at, bpm, name) {
	const long = (data.meters.find((m) => m.name === name).beats * 60000) / bpm;
	const to = Math.max(data.to, ...eventsOf(doc.lines).map((e) => e.end));
	const first = Math.ceil((data.from - at) / long);
	const bars = [];
	for (let k = first; k === first || at + k * long < to - 50; k++) {
		const b = { ...empty, kind: "bar", number: 1 + k, start: Math.round(at + k * long) };
		bars.push({ ...b, text: barText(b) });
	}
	change(() => {
		head("tempo", bpm.toFixed(1) + " bpm", "tuning");
		head("meter", name, "tempo");
		doc.lines = doc.lines.filter((l) => l !== headLine("form"));
		layBars(bars);
		placeEvents();
	});
}

// placeEvents gives all events their places in the bars.
function placeEvents() {
	for (const e of eventsOf(doc.lines)) e.place = placeAt(e.start).name;
}

// onGrid is the time of the place that an event is written at, if it begins a little early.
const onGrid = (ms) => (grid.places.length ? Math.max(ms, placeAt(ms).at) : ms);

// layBars puts bar lines where the document has them: above the first event that begins in
// the bar, or between phrases, with an empty line before them there.
function layBars(bars) {
	const lines = doc.lines;
	const rest = [];
	for (let i = 0; i < lines.length; i++) {
		if (lines[i].kind !== "bar") {
			rest.push(lines[i]);
			continue;
		}
		let next = i;
		while (lines[next]?.kind === "bar") next++;
		if (blank(rest.at(-1)) && !isEvent(lines[next] ?? {}) && !lines[next]?.text.startsWith("#")) rest.pop();
		i = next - 1;
	}
	doc.lines = [...rest, ...bars]; // for the grid
	regrid();
	const out = [];
	let left = bars;
	const lay = (until, at, lead) => {
		const ready = left.filter((b) => b.start <= until);
		left = left.filter((b) => b.start > until);
		if (ready.length) out.splice(at, 0, ...(lead ? [{ ...empty, kind: "text" }] : []), ...ready);
	};
	const above = () => (blank(out.at(-1)) ? out.length - 1 : out.length); // the empty line
	let phrase = null;
	for (const l of rest) {
		let at = out.length;
		if (isEvent(l)) {
			while (out[at - 1]?.kind === "text" && out[at - 1].text.startsWith("#")) at--;
			lay(onGrid(l.start), at, false);
		} else if (l.kind === "space") {
			lay(phrase.end - 1, above(), false);
		} else if (l.kind === "phrase") {
			if (phrase) lay(phrase.end - 1, above(), false);
			lay(onGrid(l.start), above(), true);
			phrase = l;
		}
		out.push(l);
	}
	const last = out.findLastIndex(isEvent) + 1;
	const before = out.length;
	lay(phrase ? phrase.end - 1 : -Infinity, last, false);
	lay(Infinity, last + out.length - before, true);
	doc.lines = out;
}
