// What the controls and keys do.

const $ = (id) => document.getElementById(id);
const told = $("told");

function tell(words) {
	told.textContent = words;
}

// choose selects a note; go also goes there.
function choose(e, go = false) {
	view.selected = e;
	typed.text = "";
	refuse("");
	if (e && go) player.seek(e.start);
	if (e) show(e.start, false);
	markChosen();
	drawPanel();
	light(player.now);
	draw();
	follow(buttons.get(e));
	tellChosen();
}

// tellChosen says which note is chosen, and what it is.
function tellChosen() {
	const e = view.selected;
	if (!e) return;
	const events = eventsOf(doc.lines);
	tell(`Note ${events.indexOf(e) + 1} of ${events.length}: ${spoken(e)}`);
}

// stepBy goes some notes on from the chosen one, or from where the player stands.
function stepBy(n) {
	const events = eventsOf(doc.lines);
	if (!events.length) return;
	let at = events.indexOf(player.playing ? litNow : view.selected);
	if (at < 0) at = events.findLastIndex((e) => e.start <= player.now) + (n < 0 ? 1 : 0);
	goTo(events[clamp(at + n, 0, events.length - 1)]);
}

// goTo chooses a note, and unless it plays on, plays it.
function goTo(e) {
	const playing = player.playing && player.until === null;
	view.begun = true;
	choose(e, true);
	if (document.activeElement?.closest("#sheet")) buttons.get(e)?.focus();
	if (!playing) hearChosen();
}

function hearChosen() {
	const e = view.selected;
	if (!e) return;
	player.seek(e.start);
	player.play(e.end).catch(refused);
}

const refused = (err) => err.name !== "AbortError" && tell("The browser did not play: " + err.message);

function togglePlay() {
	if (player.playing) player.pause();
	else player.play().catch(refused);
}

function nextDoubt() {
	const events = eventsOf(doc.lines);
	const from = view.begun ? events.indexOf(view.selected) + 1 : 0;
	const e = [...events.slice(from), ...events.slice(0, from)].find((e) => e.doubt);
	if (e) goTo(e);
	else tell("No note is in doubt.");
}

function setLoop(loop) {
	player.loop = loop;
	$("loop").setAttribute("aria-pressed", String(Boolean(loop)));
	if (!loop) tell("No loop.");
	else tell("Loop: " + (loop.name || `${clock(Math.round(loop.from))} to ${clock(Math.round(loop.to))}`));
	draw();
}

// loopPhrase loops the phrase of the chosen note, or of where the player stands.
function loopPhrase() {
	const e = view.selected ?? eventsOf(doc.lines).findLast((e) => e.start <= player.now) ?? eventsOf(doc.lines)[0];
	if (!e) return setLoop({ from: data.from, to: data.to, name: "all" });
	const g = groupOf(e);
	setLoop({
		from: Math.max(data.from, g.events[0].start - 150),
		to: Math.min(data.to, lastEnd(g.events) + 250),
		name: g.phrase ? `phrase ${g.phrase.number}` : "all",
	});
}

const toggleLoop = () => (player.loop ? setLoop(null) : loopPhrase());

// loopEdge puts one end of the loop where the player stands.
function loopEdge(edge) {
	const old = player.loop ?? { from: data.from, to: data.to };
	const loop = { ...old, [edge]: player.now, name: "" };
	if (loop.to - loop.from > 50) setLoop(loop);
}

function clicked(ms, note) {
	const events = eventsOf(doc.lines);
	const hits = events.filter((e) => ms >= e.start && ms < e.end);
	const e = hits.sort((a, b) => Math.min(...a.notes.map((n) => Math.abs(n - note))) - Math.min(...b.notes.map((n) => Math.abs(n - note))))[0];
	if (e) return goTo(e);
	player.seek(ms);
	draw();
}

function moveEnd(end, ms) {
	const e = view.selected;
	change(() => (end === "start" ? setTimes(e, ms, e.end) : setTimes(e, e.start, ms)));
	if (Math.abs(e[end] - ms) > 1) tell(`Moved to ${clock(e[end])}, as far as its neighbours and its phrase allow.`);
}

// moveGrid moves the bars, or if one is wanted that bar line.
function moveGrid(by, bar) {
	const one = $("one").getAttribute("aria-pressed") === "true" ? bar : null;
	const why = moveBars(by, one);
	const what = one ? `Bar ${one.number}` : "All bars";
	tell(why || `${what} ${Math.abs(Math.round(by))} ms ${by < 0 ? "earlier" : "later"}.`);
}

// layFirst gives a tab its first bars: bar 1 begins with the chosen note, or where the player stands.
function layFirst() {
	const bpm = Math.round(10 * Number($("bpm").value)) / 10;
	if (!(bpm >= 20 && bpm <= 400)) return tell("Not possible: the tempo is 20 to 400 beats a minute. Count the beats to find it.");
	const at = view.selected ? view.selected.start : Math.round(player.now);
	const pressed = document.activeElement === $("lay"); // which goes now
	firstBars(at, bpm, $("meter").value);
	if (pressed) $("later").focus();
	tell(`Bar 1 begins at ${clock(at)}. Hear the click; then move the bars, or one bar line.`);
}

// nudgeGrid moves the bars by the keyboard: one bar line is that of the chosen note.
function nudgeGrid(by) {
	const bars = barLines();
	const at = view.selected ? onGrid(view.selected.start) : player.now;
	moveGrid(by, bars.findLast((b) => b.start <= at) ?? bars[0]);
}

const toggle = (id) => {
	const on = $(id).getAttribute("aria-pressed") !== "true";
	$(id).setAttribute("aria-pressed", String(on));
	return on;
};

function toggleClick() {
	if ($("click").hidden) return;
	const on = toggle("click");
	player.setClick(on);
	tell(on ? "A click on every beat." : "No click.");
}

// toggleFaster makes a loop 5 % faster each time, from 60 % on if it is not slower already.
function toggleFaster() {
	const on = toggle("faster");
	player.faster = on ? () => Number($("speed").value) < 100 && changeSelect("speed", 1) : null;
	if (!on) return tell("Each time at the same speed.");
	if (!player.loop) loopPhrase();
	if (Number($("speed").value) >= 100) {
		$("speed").value = 60;
		$("speed").dispatchEvent(new Event("change"));
	}
	tell(`From ${$("speed").value} %, each time 5 % faster, up to 100 %.`);
}

// What is typed: a hole with its minus and its bends. A character that cannot go on from
// the ones before begins anew.
const typed = { text: "" };
const holeForm = /^-?([1-9]\d?)?('*|o)$/;

function typeHole(key) {
	const e = view.selected;
	if (!e) return tell("Choose a note to type what it is.");
	if (player.playing && player.until === null) return tell("Pause to type what is played.");
	if (key === "'" && !typed.text && cellsOf(e.tab).length === 1) typed.text = e.tab;
	const parts = typed.text.split("+");
	let last = parts.pop() + key;
	if (key === "+") {
		parts.push(parts.length || last !== "+" ? last.slice(0, -1) : e.tab);
		last = "";
	} else if (!holeForm.test(last) || Number(last.match(/\d+/)?.[0] ?? 1) > data.holes) {
		if (!holeForm.test(key)) return tell(`${last} is no hole.`);
		parts.length = 0;
		last = key;
	}
	typed.text = [...parts, last].join("+");
	const cells = typed.text.split("+").map((t) => cellOf.get(t));
	if (!last || last === "-") return tell(`${typed.text} …`);
	if (cells.includes(undefined)) {
		const wrong = typed.text;
		typed.text = typed.text.slice(0, -1);
		return tell(`This harp has no ${wrong}.`);
	}
	if (cells.some((c) => c.breath !== cells[0].breath)) {
		typed.text = "";
		return tell("One breath at a time: blow and draw don't sound together.");
	}
	const text = typed.text;
	change(() => setCells(e, [...new Set(cells)]));
	typed.text = text;
	hearChosen();
}

const speeds = Array.from({ length: 13 }, (_, i) => 40 + 5 * i);
$("speed").append(...speeds.map((s) => el("option", { value: s, selected: s === 100 }, `${s} %`)));

function changeSelect(id, by) {
	const s = $(id);
	s.selectedIndex = by === 0 ? (s.selectedIndex + 1) % s.length : clamp(s.selectedIndex + by, 0, s.length - 1);
	s.dispatchEvent(new Event("change"));
	tell(`${s.parentElement.firstChild.textContent.trim()}: ${s.selectedOptions[0].textContent}`);
}

function download(file, words) {
	const link = el("a", { download: file, href: URL.createObjectURL(new Blob([words], { type: "text/plain" })) });
	link.click();
	setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

function save() {
	download(data.file, text());
	keep(true);
	tell(`Saved as ${data.file} among your downloads.`);
}

function takeBack() {
	const at = eventsOf(doc.lines).indexOf(view.selected);
	undo();
	choose(eventsOf(doc.lines)[at] ?? null);
}

const actions = {
	back: () => stepBy(-1),
	on: () => stepBy(1),
	play: togglePlay,
	loop: toggleLoop,
	doubt: nextDoubt,
	undo: takeBack,
	save,
	wider: () => zoom(1 / 1.4),
	closer: () => zoom(1.4),
	count: countOn,
	faster: toggleFaster,
	click: toggleClick,
	one: () => tell(toggle("one") ? "One bar line is moved." : "All bars are moved."),
	earlier: () => nudgeGrid(-10),
	later: () => nudgeGrid(10),
	beats: saveBeats,
	lay: layFirst,
};
for (const [id, act] of Object.entries(actions)) $(id).onclick = act;
$("speed").onchange = () => player.setSpeed($("speed").value / 100);
$("hear").onchange = () => player.setHear($("hear").value);

const keys = {
	" ": togglePlay,
	ArrowLeft: () => stepBy(-1),
	ArrowRight: () => stepBy(1),
	Enter: hearChosen,
	n: nextDoubt,
	y: yes,
	l: toggleLoop,
	"[": () => loopEdge("from"),
	"]": () => loopEdge("to"),
	",": () => changeSelect("speed", -1),
	".": () => changeSelect("speed", 1),
	t: () => changeSelect("hear", 0),
	f: toggleFaster,
	c: toggleClick,
	Escape: () => (typed.text = ""),
	...Object.fromEntries([..."0123456789-'+o"].map((k) => [k, () => (counting(k) ? countBeat(Number(k)) : typeHole(k))])),
};

// counting reports whether a key is a beat that is counted along.
const counting = (key) => "1234".includes(key) && player.playing && player.until === null;

addEventListener("keydown", (ev) => {
	const at = ev.target;
	if (at.matches("input:not([type=checkbox]), select, textarea")) return;
	if ((ev.ctrlKey || ev.metaKey) && ev.key.toLowerCase() === "z") {
		ev.preventDefault();
		takeBack();
	}
	if (ev.ctrlKey || ev.metaKey || ev.altKey) return;
	// The keys of a control stay its own, but for the notes of the sheet.
	if ((ev.key === " " || ev.key === "Enter") && at.closest("button, summary, input") && !at.closest("#sheet")) return;
	const act = keys[ev.key.length === 1 ? ev.key.toLowerCase() : ev.key];
	if (!act) return;
	ev.preventDefault();
	act();
});

// A mouse leaves the focus where it is, so that the space bar goes on playing.
addEventListener("mousedown", (ev) => ev.target.closest("button") && ev.preventDefault());

// A space bar that played is no press of the note it stands on.
addEventListener("keyup", (ev) => ev.key === " " && ev.target.closest("#sheet") && ev.preventDefault());

// refresh draws all anew after a change.
function refresh() {
	const at = eventsOf(doc.lines).indexOf(view.selected);
	if (at < 0) view.selected = null;
	litNow = null;
	drawSheet();
	markChosen();
	drawPanel();
	silence();
	light(player.now);
	follow(buttons.get(view.selected));
	tellChosen();
	const doubts = eventsOf(doc.lines).filter((e) => e.doubt).length;
	if (doubts) $("doubt").replaceChildren(el("span", {}, "Next "), `doubt (${doubts})`);
	else $("doubt").textContent = "No doubts";
	$("doubt").disabled = !doubts;
	$("undo").disabled = !doc.past.length;
	const barred = barLines().length > 0;
	for (const id of ["earlier", "later", "one", "barhint"]) $(id).hidden = !barred;
	$("laying").hidden = barred;
	$("click").hidden = grid.beats.length < 2;
	$("save").classList.toggle("strong", !doc.kept);
	$("save").textContent = doc.kept ? "Save tab" : "Save tab •";
	measure();
}

player.onTick = (now) => {
	$("play").textContent = player.playing ? "❚❚ Pause" : "▶ Play";
	if (player.playing && player.until === null) show(now, true);
	light(now);
	draw();
};

$("meter").append(...data.meters.map((m) => el("option", { value: m.name, selected: m === meter() }, m.name)));
$("bpm").value = tempo() || "";
const kept = restore();
buildPanel();
doc.listeners.push(refresh);
refresh();
choose(eventsOf(doc.lines)[0] ?? null);
if (kept) tell("Your changes are here as you left them.");
else tell("");
