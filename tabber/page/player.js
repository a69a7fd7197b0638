// The player: the recording, slower without being lower, and the tab beside it or in
// its place. The tab is played from the notes as they stand, so that a correction is
// heard at once.

const audio = new Audio();
audio.preservesPitch = true;
audio.preload = "auto";
document.body.append(audio);
// The picture comes before the sound.
if (data.link) audio.src = data.link;
else setTimeout(() => (audio.src = URL.createObjectURL(new Blob([soundBytes()], { type: "audio/flac" }))));

function soundBytes() {
	return bytesOf(JSON.parse(document.getElementById("sound").textContent));
}

function bytesOf(base64) {
	if (Uint8Array.fromBase64) return Uint8Array.fromBase64(base64);
	const text = atob(base64);
	const out = new Uint8Array(text.length);
	for (let i = 0; i < text.length; i++) out[i] = text.charCodeAt(i);
	return out;
}

const audioFrom = data.link ? 0 : data.from; // where the sound begins in the recording

const player = {
	loop: null, // {from, to, name}
	until: null, // stop there
	hear: "record",
	click: false, // on the beats
	faster: null, // what to do each time the loop is over
	get now() {
		return audioFrom + 1000 * audio.currentTime;
	},
	get playing() {
		return !audio.paused;
	},
	seek(ms) {
		audio.currentTime = (clamp(ms, data.from, data.to) - audioFrom) / 1000;
		silence();
	},
	async play(until = null) {
		player.until = until;
		const { loop, now } = player;
		if (until === null && loop && (now < loop.from || now >= loop.to)) player.seek(loop.from);
		if (now >= data.to - 10) player.seek(loop ? loop.from : data.from);
		route();
		await audio.play();
	},
	pause() {
		audio.pause();
		silence();
	},
	setSpeed(rate) {
		audio.playbackRate = audio.defaultPlaybackRate = rate;
		silence();
	},
	setClick(on) {
		player.click = on;
		silence();
		if (player.playing) route();
	},
	setHear(what) {
		player.hear = what;
		silence();
		if (player.playing) route();
	},
	onTick() {},
};

// step looks after what has to happen while time goes by.
function step() {
	const now = player.now;
	if (player.playing) {
		const { loop, until } = player;
		if (until !== null ? now >= until : !loop && now >= data.to) {
			player.pause();
			player.until = null;
		} else if (until === null && loop && now >= loop.to) {
			loopAgain(loop);
		} else {
			if (player.hear !== "record") playTab(now);
			if (player.click) playClicks(now);
		}
	}
	player.onTick(now);
}

// loopAgain begins the next time of a loop.
function loopAgain(loop) {
	player.faster?.();
	player.seek(loop.from);
}

function run() {
	step();
	if (player.playing) requestAnimationFrame(run);
}

audio.addEventListener("play", () => requestAnimationFrame(run));
audio.addEventListener("pause", () => player.onTick(player.now));
audio.addEventListener("seeked", () => player.onTick(player.now));
audio.addEventListener("timeupdate", step); // goes on when the page is out of sight
audio.addEventListener("ended", () => {
	if (!player.loop) return;
	loopAgain(player.loop);
	audio.play();
});
audio.addEventListener("error", () => tell(data.link
	? "The recording can't be played. It has to lie at " + decodeURIComponent(data.link) + ", seen from this page, in a form that the browser plays."
	: "This browser can't play the sound in this page, or finds nothing to play it on."));

// The sound of the tab.

const ahead = 200; // ms of sound that are prepared
let context, reed, left, right;
const sounding = new Map(); // event to its oscillators

// route sends the recording and the tab to the ears.
function route() {
	if (player.hear === "record" && !player.click && !context) return;
	if (!context) {
		context = new AudioContext();
		// A linked file stays outside: the browser would not let its sound through.
		left = new StereoPannerNode(context);
		if (!data.link) context.createMediaElementSource(audio).connect(left);
		left.connect(context.destination);
		right = new StereoPannerNode(context);
		right.connect(context.destination);
		const partials = [0, 1, 0.8, 0.75, 0.45, 0.4, 0.25, 0.2, 0.12, 0.1, 0.07, 0.05, 0.04];
		reed = context.createPeriodicWave(partials.map(() => 0), partials);
	}
	context.resume();
	audio.muted = player.hear === "tab";
	left.pan.value = player.hear === "both" ? -1 : 0;
	right.pan.value = player.hear === "both" ? 1 : 0;
}

// playTab prepares the notes that begin soon or sound now.
function playTab(now) {
	const rate = audio.playbackRate;
	const stop = player.until ?? player.loop?.to ?? data.to;
	for (const e of eventsOf(doc.lines)) {
		const end = Math.min(e.end, stop);
		if (sounding.has(e) || end < now + shortest || e.start >= Math.min(now + ahead * rate, stop)) continue;
		const at = context.currentTime + Math.max(0, e.start - now) / 1000 / rate;
		sounding.set(e, e.notes.map((n) => voice(n, at, context.currentTime + (end - now) / 1000 / rate, e.notes.length)));
	}
}

// playClicks prepares the clicks of the beats that come soon: the first of a bar is higher.
function playClicks(now) {
	const rate = audio.playbackRate;
	const first = new Set(barLines().map((b) => b.start));
	for (const beat of grid.beats) {
		if (sounding.has(beat) || beat < now || beat >= now + ahead * rate) continue;
		const at = context.currentTime + (beat - now) / 1000 / rate;
		const tone = new OscillatorNode(context, { frequency: first.has(beat) ? 1500 : 1000 });
		const loud = new GainNode(context, { gain: 0.25 });
		loud.gain.setValueAtTime(0.25, at);
		loud.gain.exponentialRampToValueAtTime(0.001, at + 0.03);
		tone.connect(loud).connect(context.destination);
		tone.start(at);
		tone.stop(at + 0.03);
		sounding.set(beat, [tone]);
	}
}

function voice(note, start, end, voices) {
	const tone = new OscillatorNode(context, { frequency: 440 * 2 ** ((note - 69 + data.cents / 100) / 12) });
	tone.setPeriodicWave(reed);
	const loud = new GainNode(context, { gain: 0 });
	const full = 0.22 / Math.sqrt(voices);
	loud.gain.setValueAtTime(0, start);
	loud.gain.linearRampToValueAtTime(full, Math.min(start + 0.03, end));
	loud.gain.setValueAtTime(full, Math.max(end - 0.03, Math.min(start + 0.03, end)));
	loud.gain.linearRampToValueAtTime(0, end + 0.01);
	tone.connect(loud).connect(right);
	tone.start(start);
	tone.stop(end + 0.02);
	return tone;
}

function silence() {
	for (const tones of sounding.values()) for (const t of tones) t.stop();
	sounding.clear();
}

if (data.link) player.seek(data.from);
