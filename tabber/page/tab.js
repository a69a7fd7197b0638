// The document: its lines, and what a player does to them. Times are milliseconds
// from the start of the recording.

const data = JSON.parse(document.getElementById("data").textContent);
const cellOf = new Map(data.cells.map((c) => [c.tab, c]));
const shortest = 20; // of a note

// empty is a line without what most lines lack.
const empty = {
	text: "", start: 0, end: 0, place: "", tab: "", degree: "", marks: "", doubt: "", comment: "", say: "",
	doubts: "", notes: [], options: [], shares: [], fors: [], checked: false, number: 0, chord: "", mark: "",
};
const original = data.lines.map((l) => ({ ...empty, ...l }));

const doc = { lines: structuredClone(original), past: [], kept: true, listeners: [] };

const eventsOf = (lines) => lines.filter((l) => l.kind === "event");
const isEvent = (l) => l.kind === "event";

// groups are the phrases, each with its heading and its events; what stands above the
// first heading is a group without one.
function groups() {
	const out = [];
	for (const l of doc.lines) {
		if (l.kind === "phrase" || (isEvent(l) && !out.length)) out.push({ phrase: l.kind === "phrase" ? l : null, events: [] });
		if (isEvent(l)) out.at(-1).events.push(l);
	}
	return out;
}

const groupOf = (e) => groups().find((g) => g.events.includes(e));
const lastEnd = (events) => Math.max(...events.map((e) => e.end));

// change does something to the lines, lets the headings follow, and keeps the result.
function change(edit) {
	const before = JSON.stringify(doc.lines);
	const fit = groups().filter((g) => g.phrase && g.events.length).map((g) => ({
		phrase: g.phrase,
		start: g.phrase.start === g.events[0].start,
		end: g.phrase.end === lastEnd(g.events),
	}));
	edit();
	for (const g of groups().filter((g) => g.phrase)) {
		const was = fit.find((f) => f.phrase === g.phrase);
		if (was && !g.events.length) dropPhrase(g.phrase);
		if (!g.events.length) continue;
		const first = g.events[0].start;
		g.phrase.start = was?.start ? first : Math.min(g.phrase.start, first);
		if (was?.end) g.phrase.end = lastEnd(g.events);
	}
	tidy();
	if (JSON.stringify(doc.lines) === before) return;
	doc.past.push(before);
	keep();
}

// tidy writes headings and spaces afresh, and puts bar lines where they belong.
function tidy() {
	if (barLines().length) layBars(barLines());
	const phrases = doc.lines.filter((l) => l.kind === "phrase");
	phrases.forEach((p, i) => {
		p.number = i + 1;
		p.text = `Phrase ${i + 1}  ${clock(p.start)} to ${clock(p.end)}  ${lengthText(p.start, p.end)}${p.checked ? "  checked" : ""}`;
	});
	laySpaces(phrases);
}

const blank = (l) => l?.kind === "text" && !l.text;
const leastSpace = 50; // ms, of those that are told

// laySpaces writes how long the spaces between phrases are, above the bar lines that lie in them.
function laySpaces(phrases) {
	const lines = [];
	for (const l of doc.lines) {
		if (l.kind !== "space") lines.push(l);
		else if (blank(lines.at(-1))) lines.pop();
	}
	phrases.slice(1).forEach((p, i) => {
		const from = phrases[i].end;
		if (p.start - from < leastSpace) return;
		let at = lines.indexOf(p);
		if (blank(lines[at - 1])) at--;
		const heading = at;
		while (lines[at - 1]?.kind === "bar" && lines[at - 1].start > from - 1) at--;
		if (at < heading && blank(lines[at - 1])) at--;
		const space = { ...empty, kind: "space", text: "space " + lengthText(from, p.start) };
		lines.splice(at, 0, { ...empty, kind: "text" }, space);
	});
	doc.lines = lines;
}

function lengthText(from, to) {
	const seconds = (to / 1000 - from / 1000).toFixed(1) + " s";
	return grid.beats.length < 2 ? seconds : `${seconds}, ${(beatAt(to) - beatAt(from)).toFixed(1)} beats`;
}

// beatAt counts beats, parts of them included.
function beatAt(ms) {
	const { beats } = grid;
	const next = beats.findIndex((b) => b > ms);
	const i = next < 0 ? beats.length - 2 : Math.max(next - 1, 0);
	return i + (ms - beats[i]) / (beats[i + 1] - beats[i]);
}

// dropPhrase takes out the heading of an empty phrase, and the empty line above it unless a
// remark is left there.
function dropPhrase(phrase) {
	const at = doc.lines.indexOf(phrase);
	doc.lines.splice(at, 1);
	if (blank(doc.lines[at - 1]) && !doc.lines[at]?.text.startsWith("#")) doc.lines.splice(at - 1, 1);
}

// setCells says what an event is: cells of one breath.
function setCells(e, cells) {
	const sorted = [...cells].sort((a, b) => a.hole - b.hole);
	const tabs = sorted.map((c) => c.tab);
	const notes = sorted.map((c) => c.midi);
	if (e.notes.join() !== notes.join()) e.marks = e.marks.split(" ").filter((m) => !/^[-+]\d+c$/.test(m)).join(" ");
	e.tab = tabs.length === 1 ? tabs[0] : `[${tabs.join(" ")}]`;
	e.say = sorted.map((c) => c.say).join(" with ");
	e.degree = sorted.map((c) => c.degree).join(" ");
	if (sorted.length === 2 && sorted[1].hole - sorted[0].hole > 1) e.degree += " " + data.intervals[notes[1] - notes[0]];
	e.notes = notes;
	settle(e);
}

const cellsOf = (tab) => tab.replace(/[[\]]/g, "").split(" ").map((t) => cellOf.get(t)).filter(Boolean);

// settle takes the doubt of an event away; a sound that the harp lacks always is in doubt.
function settle(e) {
	if (e.tab.startsWith("{")) return;
	e.doubt = e.doubts = "";
	e.options = e.shares = e.fors = [];
}

// check says that a player has found an event right by ear, or that nobody has.
function check(e, checked = true) {
	e.checked = checked;
	if (checked) settle(e);
}

// checkPhrase says so of all of a phrase.
function checkPhrase(phrase) {
	phrase.checked = !phrase.checked;
	const g = groups().find((g) => g.phrase === phrase);
	if (phrase.checked) g.events.forEach(settle);
}

// seen are the events that were checked by ear, themselves or with their phrase.
const seen = () => groups().flatMap((g) => g.events.filter((e) => e.checked || g.phrase?.checked));

// column is what stands behind the marks of an event.
const column = (e) => [e.checked ? "checked" : "", e.doubt].filter(Boolean).join(" ");

// setTimes moves an event; a neighbour that it runs into gives way.
function setTimes(e, start, end) {
	const events = eventsOf(doc.lines);
	const i = events.indexOf(e);
	const before = events[i - 1];
	const after = events[i + 1];
	const may = limits(e);
	e.start = Math.round(clamp(start, may.low, may.latest));
	e.end = Math.round(clamp(end, e.start + shortest, may.high));
	if (before) before.end = Math.min(before.end, e.start);
	if (after) after.start = Math.max(after.start, e.end);
	for (const x of [e, after]) if (x && grid.places.length) x.place = placeAt(x.start).name;
}

// limits are the times that an event can have: it begins from low to latest and ends at
// high at the latest.
function limits(e) {
	const events = eventsOf(doc.lines);
	const i = events.indexOf(e);
	const before = events[i - 1];
	const after = events[i + 1];
	const heading = doc.lines.find((l, k) => l.kind === "phrase" && k > doc.lines.indexOf(e));
	const low = before ? before.start + shortest : data.from;
	const high = Math.min(after ? after.end - shortest : data.to, data.to);
	return { low, high, latest: Math.min(high, heading ? heading.start - 1 : high) - shortest };
}

// placeAt is the place in the bar that is nearest.
function placeAt(ms) {
	return grid.places.reduce((a, b) => (Math.abs(b.at - ms) < Math.abs(a.at - ms) ? b : a));
}

// sharePlaces puts the sign of a shared place behind that of each event which has the place
// of the one before, as the document does.
function sharePlaces() {
	let before = null;
	for (const e of eventsOf(doc.lines)) {
		const place = e.place.replace(/~$/, "");
		e.place = place && place === before ? place + "~" : place;
		before = place;
	}
}

// setMark sets or takes away a mark; tongued and legato exclude each other.
function setMark(e, name) {
	const now = new Set(markNames(e));
	const words = new Map(markWords(e).map((w) => [markName(w), w]));
	if (now.has(name)) words.delete(name);
	else words.set(name, name);
	if (!now.has(name) && name === "tongued") words.delete("legato");
	if (!now.has(name) && name === "legato") words.delete("tongued");
	e.marks = data.marks.map((m) => words.get(m.name)).filter(Boolean).join(" ");
}

const markWords = (e) => e.marks.split(" ").filter(Boolean);
const markName = (word) => (/^-\d+dB$/.test(word) ? "bleed" : /^[-+]\d+c$/.test(word) ? "cents" : word);
const markNames = (e) => markWords(e).map(markName);

function split(e, at) {
	const second = { ...structuredClone(e), start: Math.round(at), marks: "", comment: "" };
	doc.lines.splice(doc.lines.indexOf(e) + 1, 0, second);
	setTimes(e, e.start, at);
	return second;
}

// joinable is the next event of the same phrase.
function joinable(e) {
	const events = groupOf(e).events;
	return events[events.indexOf(e) + 1];
}

function join(e) {
	const next = joinable(e);
	e.end = next.end;
	e.comment = [e.comment, next.comment].filter(Boolean).join("; ");
	doc.lines.splice(doc.lines.indexOf(next), 1);
}

// remove takes an event out; its comment stays on a line of its own.
function remove(e) {
	const line = e.comment ? [{ ...empty, kind: "text", text: "# " + e.comment }] : [];
	doc.lines.splice(doc.lines.indexOf(e), 1, ...line);
}

// add writes a note that was missed, with the doubt that it is due.
function add(at, cell) {
	const events = eventsOf(doc.lines);
	const after = events.find((e) => e.start > at);
	const before = events[events.indexOf(after ?? null) - 1] ?? (after ? null : events.at(-1));
	const e = { ...empty, kind: "event" };
	doc.lines.splice(doc.lines.indexOf(before ?? after) + (before ? 1 : 0), 0, e);
	setCells(e, [cell]);
	e.doubt = "? 50%";
	e.checked = false;
	e.start = Math.round(at);
	setTimes(e, at, Math.min(at + 300, after ? after.start : data.to));
	return e;
}

// text is the document as a file.
function text() {
	sharePlaces();
	const names = ["time", "length", "bar", "tab", "degree", "marks", ""];
	const rows = new Map(eventsOf(doc.lines).map((e) => [e, [
		clock(e.start), ((e.end - e.start) / 1000).toFixed(3), e.place, e.tab, e.degree, e.marks, column(e),
	]]));
	const length = (s) => [...s].length;
	const width = names.map((n, i) => Math.max(length(n), ...[...rows.values()].map((r) => length(r[i]))));
	const shown = names.map((_, i) => (i === 2 ? doc.lines.some((l) => l.kind === "bar") : i !== 5 || [...rows.values()].some((r) => r[5])));
	const pad = (s, i) => (i < 2 ? s.padStart(width[i]) : s + " ".repeat(width[i] - length(s)));
	const line = (row) => row.map(pad).filter((_, i) => shown[i]).join("  ").trimEnd();
	const body = doc.lines.filter((l) => l.kind !== "legend").map((l) => {
		if (l.kind === "columns") return line(names);
		if (!isEvent(l)) return l.text;
		return line(rows.get(l)) + (l.comment ? `  # ${l.comment}`.trimEnd() : "");
	});
	return [...body, ...legend()].join("\n") + "\n";
}

// legend explains the marks, as the document does.
function legend() {
	const used = new Set(eventsOf(doc.lines).flatMap(markNames));
	const words = data.marks.filter((m) => used.has(m.name));
	const width = Math.max(...data.marks.map((m) => m.name.length));
	return words.length ? ["", "Marks", ...words.map((m) => `${m.name.padEnd(width)}  ${m.meaning}`)] : [];
}

// What the browser keeps, so that a reload loses nothing.

const storeKey = "blowdraw " + data.id;

function keep(saved = false) {
	doc.kept = saved;
	regrid();
	sharePlaces();
	try {
		localStorage.setItem(storeKey, JSON.stringify({ lines: doc.lines, saved }));
	} catch {
		tell("This browser keeps nothing for this page. Save the tab before you close it.");
	}
	for (const f of doc.listeners) f();
}

function restore() {
	try {
		const stored = JSON.parse(localStorage.getItem(storeKey));
		if (!Array.isArray(stored?.lines)) return false;
		doc.lines = stored.lines;
		doc.kept = stored.saved;
		regrid();
		return true;
	} catch {
		return false;
	}
}

function undo() {
	if (!doc.past.length) return;
	doc.lines = JSON.parse(doc.past.pop());
	keep();
}

// startAgain forgets all changes.
function startAgain() {
	doc.past.push(JSON.stringify(doc.lines));
	doc.lines = structuredClone(original);
	keep(true);
}

function clamp(x, low, high) {
	return Math.max(low, Math.min(x, high));
}

// clock writes a time as the document does: 1:02.345, 1:01:02.345.
function clock(ms) {
	return `${shortClock(Math.floor(ms / 1000))}.${String(ms % 1000).padStart(3, "0")}`;
}

// shortClock writes whole seconds as minutes and seconds, from an hour on with hours.
function shortClock(s) {
	const two = (n) => String(n % 60).padStart(2, "0");
	const minutes = Math.floor(s / 60);
	return (minutes < 60 ? `${minutes}` : `${Math.floor(minutes / 60)}:${two(minutes)}`) + `:${two(s)}`;
}
