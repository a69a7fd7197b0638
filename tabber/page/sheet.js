// The sheet of tab, and the panel of the chosen note with the harp.

// el makes an element; children are elements or text.
function el(tag, props = {}, ...children) {
	const { data: set, aria, ...rest } = props;
	const out = Object.assign(document.createElement(tag), rest);
	for (const [k, v] of Object.entries(set ?? {})) out.dataset[k] = v;
	for (const [k, v] of Object.entries(aria ?? {})) out.setAttribute("aria-" + k, v);
	out.append(...children.filter((c) => c !== null && c !== ""));
	return out;
}

const sheet = document.getElementById("sheet");
const buttons = new Map(); // event to its button on the sheet

// spoken is an event in words.
function spoken(e) {
	const parts = [e.say, e.degree && "degree " + e.degree, e.marks, e.doubt && ["in doubt", e.doubts].filter(Boolean).join(": "), e.checked && "checked by ear", e.comment];
	return parts.filter(Boolean).join(", ");
}

const shownTab = (e) => e.tab.replace(/[{}]/g, "");

function drawSheet() {
	sheet.replaceChildren();
	buttons.clear();
	let row = null;
	let bar = null;
	const checked = seen().length;
	if (checked) sheet.append(el("p", { className: "seen" }, `${checked} of ${eventsOf(doc.lines).length} notes checked by ear`));
	for (const l of doc.lines) {
		if (l.kind === "phrase") {
			row = el("ol");
			sheet.append(el("h2", {}, `Phrase ${l.number}`, el("span", {}, l.text.replace(/^Phrase \d+\s+/, "").replace(/ +checked$/, "").replace(/  /, " · ")), phraseCheck(l)), row);
		} else if (l.kind === "space") {
			sheet.append(el("p", { className: "space" }, l.text));
		} else if (l.kind === "bar") {
			bar = l;
		} else if (l.text.startsWith("#")) {
			const list = row ?? sheet;
			list.append(el(row ? "li" : "p", { className: "remark" }, l.text.slice(1).trim()));
		} else if (isEvent(l)) {
			if (!row) sheet.append((row = el("ol")));
			row.append(eventItem(l, bar));
			bar = null;
		}
	}
}

// phraseCheck is the button that says that all of a phrase was found right by ear.
const phraseCheck = (l) => el("button", {
	className: "check",
	aria: { pressed: String(l.checked), label: `Phrase ${l.number} checked by ear` },
	onclick: () => change(() => checkPhrase(l)),
}, l.checked ? "✓ checked" : "check");

function eventItem(e, bar) {
	const button = el("button", {
		tabIndex: -1,
		className: breathOf(e),
		data: { doubt: e.doubt ? "yes" : "" },
		aria: { label: spoken(e) },
		onclick: () => goTo(e),
	}, el("b", {}, shownTab(e), e.doubt ? el("sup", {}, "?") : "", e.checked ? el("sup", { className: "ok" }, "✓") : ""), el("small", {}, e.degree), el("i", {}, e.marks));
	buttons.set(e, button);
	const item = el("li", {}, button);
	item.style.minWidth = clamp((e.end - e.start) / 260, 1, 7) + "em";
	if (bar) item.prepend(el("span", { className: "bar" }, String(bar.number), el("em", {}, bar.chord)));
	if (e.comment) item.append(el("q", {}, e.comment));
	return item;
}

// light marks what sounds now, and what is chosen, in the sheet and on the harp.
let litNow = null;
function light(now) {
	const e = eventsOf(doc.lines).find((e) => now >= e.start && now < e.end) ?? null;
	if (e === litNow) return;
	buttons.get(litNow)?.classList.remove("lit");
	litNow = e;
	const button = buttons.get(e);
	button?.classList.add("lit");
	if (player.playing) follow(button);
	lightHarp();
}

// follow scrolls the sheet along, with the heading of a phrase that has just begun.
function follow(button) {
	if (!button || sheet.scrollHeight <= sheet.clientHeight) return;
	const row = button.closest("ol");
	const box = button.getBoundingClientRect();
	const frame = sheet.getBoundingClientRect();
	if (box.top >= frame.top + 30 && box.bottom <= frame.bottom) return;
	const first = button.parentElement.offsetTop < row.offsetTop + 40;
	const top = box.top - frame.top - (first ? 60 : 30);
	const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
	sheet.scrollBy({ top, behavior: still ? "auto" : "smooth" });
}

function markChosen() {
	for (const [e, button] of buttons) {
		const chosen = e === view.selected;
		button.classList.toggle("chosen", chosen);
		button.tabIndex = chosen ? 0 : -1;
		if (chosen) button.setAttribute("aria-current", "true");
		else button.removeAttribute("aria-current");
	}
}

// The harp: above the holes what blowing gives, below them what drawing gives, the
// bends further out.

const holeButtons = new Map(); // cell to its button
const harp = el("div", { className: "harp", role: "group", aria: { label: "Harp: choose what is played" }, onkeydown: harpKeys });
const together = el("input", { type: "checkbox", id: "together" });

// outward is how far from the hole a cell stands.
const outward = (c) => (c.bend < 0 ? 1 : c.bend) + 1;

function buildHarp() {
	const most = (breath) => Math.max(...data.cells.filter((c) => c.breath === breath).map((c) => (outward(c))));
	const up = most("blow");
	harp.style.setProperty("--holes", data.holes);
	for (let hole = 1; hole <= data.holes; hole++) {
		const square = el("span", { className: "hole", aria: { hidden: "true" } }, String(hole));
		square.style.gridArea = `${up + 1} / ${hole + 1}`;
		harp.append(square);
	}
	for (const [breath, row] of [["blow", up], ["draw", up + 2]]) {
		const name = el("span", { className: "breath " + breath, aria: { hidden: "true" } }, breath);
		name.style.gridArea = `${row} / 1`;
		harp.append(name);
	}
	for (const c of data.cells) {
		const row = c.breath === "blow" ? up + 1 - outward(c) : up + 1 + outward(c);
		const button = el("button", {
			className: `${c.breath}${c.bend ? " bend" : ""}`,
			data: { tab: c.tab },
			aria: { label: `${c.say}, ${c.note}, degree ${c.degree}`, pressed: "false" },
			onclick: () => pick(c),
		}, c.tab);
		button.style.gridArea = `${row} / ${c.hole + 1}`;
		holeButtons.set(c, button);
		harp.append(button);
	}
}


function pick(c) {
	const e = view.selected;
	if (!e) return;
	let cells = [c];
	if (together.checked) {
		const now = cellsOf(e.tab).filter((x) => x.breath === c.breath && x.hole !== c.hole);
		if (cellsOf(e.tab).includes(c)) cells = now;
		else cells = [...now, c];
		if (!cells.length) return;
	}
	change(() => { setCells(e, cells); check(e); });
	hearChosen();
}

// harpKeys moves between the cells with the arrow keys.
function harpKeys(ev) {
	const [dx, dy] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[ev.key] ?? [0, 0];
	if (!dx && !dy) return;
	ev.stopPropagation();
	ev.preventDefault();
	const place = (b) => [Number(b.style.gridColumnStart), Number(b.style.gridRowStart)];
	const [x, y] = place(ev.target);
	const ahead = [...holeButtons.values()].filter((b) => {
		const [bx, by] = place(b);
		return dx ? by === y && Math.sign(bx - x) === dx : bx === x && Math.sign(by - y) === dy;
	}).sort((a, b) => distance(place(a), [x, y]) - distance(place(b), [x, y]));
	ahead[0]?.focus();
}

const distance = ([ax, ay], [bx, by]) => Math.abs(ax - bx) + Math.abs(ay - by);

// lightHarp shows on the harp what is chosen, what sounds, and what was heard there.
function lightHarp() {
	const chosen = view.selected ? cellsOf(view.selected.tab) : [];
	const lit = litNow ? cellsOf(litNow.tab) : [];
	const heard = view.selected ? heardIn(view.selected.start, view.selected.end) : null;
	const home = holeButtons.keys().find((c) => chosen.includes(c)) ?? data.cells[0];
	for (const [c, button] of holeButtons) {
		button.setAttribute("aria-pressed", chosen.includes(c));
		button.classList.toggle("lit", lit.includes(c));
		button.classList.toggle("heard", heard !== null && Math.abs(c.midi - heard) < 0.5);
		button.tabIndex = c === home ? 0 : -1;
	}
}

// The panel of the chosen note.

const panel = document.getElementById("note");
const title = el("h2");
const doubtRow = el("div", { className: "choices" });
const starts = el("input", { type: "number", id: "starts", step: "0.01", onchange: () => retime("start") });
const lasts = el("input", { type: "number", id: "lasts", step: "0.01", min: "0.02", onchange: () => retime("length") });
const comment = el("input", { type: "text", id: "comment", maxLength: 300, onchange: () => change(() => (view.selected.comment = oneLine(comment.value))) });
const refusal = el("p", { id: "refused", role: "alert" });
const markRow = el("div", { className: "marks", role: "group", aria: { label: "How it is played" } });
const markButtons = new Map();
const joinButton = el("button", { id: "join", onclick: () => edit(join) }, "Join with next");
const again = el("button", { onclick: () => { startAgain(); choose(null); } }, "Start again from the tab as it was");

const oneLine = (s) => s.replace(/\p{Cc}+/gu, " ").trim();

function buildPanel() {
	buildHarp();
	for (const m of data.marks) {
		const button = el("button", {
			title: m.meaning, data: { mark: m.name }, aria: { pressed: "false" },
			onclick: () => change(() => setMark(view.selected, m.name)),
		}, m.name);
		markButtons.set(m, button);
		markRow.append(button);
	}
	panel.append(
		title,
		doubtRow,
		harp,
		el("label", { className: "together" }, together, " several holes together"),
		el("div", { className: "fields" },
			el("label", {}, "Starts (s) ", starts),
			el("label", {}, "Lasts (s) ", lasts)),
		refusal,
		el("div", { className: "choices" },
			el("button", { id: "hearNote", onclick: hearChosen }, "Hear it"),
			el("button", { id: "split", onclick: () => edit(splitHere) }, "Split"),
			joinButton,
			el("button", { id: "remove", onclick: () => edit(remove) }, "Remove"),
			el("button", { id: "add", onclick: addHere }, "Add a note")),
		markRow,
		el("label", { className: "wide" }, "Comment ", comment),
		el("p", { className: "again" }, again),
	);
}

function drawPanel() {
	const e = view.selected;
	panel.classList.toggle("empty", !e);
	again.hidden = JSON.stringify(doc.lines) === JSON.stringify(original);
	lightHarp();
	title.replaceChildren(e ? shownTab(e) : "No note chosen", el("span", {}, e ? e.say : "Choose one in the tab or in the picture."));
	doubtRow.replaceChildren();
	for (const x of panel.querySelectorAll("button, input")) if (x !== again && x.id !== "add") x.disabled = !e;
	for (const [m, button] of markButtons) {
		const on = Boolean(e) && markNames(e).includes(m.name);
		button.setAttribute("aria-pressed", String(on));
		button.hidden = m.measured && !on;
		if (m.measured && on) button.textContent = markWords(e).find((w) => markName(w) === m.name);
	}
	if (!e) return;
	starts.value = (e.start / 1000).toFixed(3);
	lasts.value = ((e.end - e.start) / 1000).toFixed(3);
	comment.value = e.comment;
	joinButton.disabled = !joinable(e);
	if (!e.doubt) {
		doubtRow.append(
			el("button", { id: "settle", aria: { pressed: String(e.checked) }, onclick: yes }, e.checked ? "✓ Checked by ear" : "Right by ear"),
			el("button", { id: "unsure", onclick: () => change(() => { e.doubt = "? 50%"; e.checked = false; }) }, "Not sure"));
		return;
	}
	const percent = e.doubt.match(/^\? (\d+)%/);
	doubtRow.append(el("button", { id: "settle", className: "strong", aria: { pressed: String(e.checked) }, onclick: yes }, `${shownTab(e)} is right`, el("small", {}, percent ? `${percent[1]} %` : "")));
	e.options.forEach((tab, i) => doubtRow.append(el("button", {
		onclick: () => (tab === "rest" ? edit(remove) : (change(() => { setCells(e, cellsOf(tab)); check(e); }), hearChosen())),
	}, tab === "rest" ? "nothing is played" : tab, el("small", {}, e.fors[i] ? `for ${e.fors[i]}` : e.shares[i] ? `${e.shares[i]} %` : ""))));
	if (e.doubts) doubtRow.append(el("p", { className: "doubts" }, "In doubt: " + e.doubts));
}

// yes says that the chosen note is right by ear; said again, it takes that back.
function yes() {
	const e = view.selected;
	if (e) change(() => check(e, !e.checked));
}

// refuse says why what was typed is impossible; nothing takes it back.
function refuse(words) {
	refusal.textContent = words;
}

// retime takes a time from its field, if it is possible.
function retime(which) {
	const e = view.selected;
	const field = which === "start" ? starts : lasts;
	const value = Math.round(1000 * Number(field.value));
	const may = limits(e);
	const [low, high] = which === "start" ? [may.low, may.latest] : [shortest, may.high - e.start];
	const possible = field.value.trim() !== "" && value >= low && value <= high;
	if (possible) change(() => (which === "start" ? setTimes(e, value, Math.max(e.end, value + shortest)) : setTimes(e, e.start, e.start + value)));
	drawPanel();
	const verb = which === "start" ? "start" : "last";
	refuse(possible ? "" : `Not possible: between its neighbours it can ${verb} from ${(low / 1000).toFixed(3)} to ${(high / 1000).toFixed(3)} s.`);
}

// edit does something to the chosen note and chooses what it returns, or the note
// that stands there then.
function edit(what) {
	const at = eventsOf(doc.lines).indexOf(view.selected);
	let next;
	change(() => (next = what(view.selected)));
	choose(next ?? eventsOf(doc.lines)[at] ?? eventsOf(doc.lines).at(-1) ?? null);
}

// splitHere splits where the player has stopped, or else in the middle.
function splitHere(e) {
	const now = player.now;
	const inside = !player.playing && now > e.start + shortest && now < e.end - shortest;
	return split(e, inside ? now : (e.start + e.end) / 2);
}

function addHere() {
	const at = player.now;
	const inside = eventsOf(doc.lines).find((e) => at >= e.start && at < e.end - shortest);
	if (inside) return tell(`${shownTab(inside)} is written here. Go to where nothing is, or split it.`);
	const heard = heardIn(at, at + 300) ?? data.cells[0].midi;
	const near = data.cells.filter((c) => c.bend >= 0).reduce((a, b) => (Math.abs(b.midi - heard) < Math.abs(a.midi - heard) ? b : a));
	let e;
	change(() => (e = add(at, near)));
	choose(e);
}
