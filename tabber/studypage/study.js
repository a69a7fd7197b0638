// Plays the places of a line one after the other, from the recordings in the page.

const sounds = [...document.querySelectorAll(".sound")].map((element) => {
	const audio = new Audio();
	audio.preservesPitch = true;
	audio.preload = "auto";
	return { element, audio, from: Number(element.dataset.from), ready: false };
});

const before = 0.12, after = 0.3; // seconds that are heard around a place

const play = document.getElementById("play");
const loop = document.getElementById("loop");
const speed = document.getElementById("speed");
const now = document.getElementById("now");
const idle = now.textContent;

let queue = [], at = 0, lit = null, timer = 0;

function bytesOf(base64) {
	if (Uint8Array.fromBase64) return Uint8Array.fromBase64(base64);
	const text = atob(base64);
	const out = new Uint8Array(text.length);
	for (let i = 0; i < text.length; i++) out[i] = text.charCodeAt(i);
	return out;
}

// load makes a sound ready the first time that it is wanted.
function load(sound) {
	if (sound.ready) return;
	sound.ready = true;
	const bytes = bytesOf(JSON.parse(sound.element.textContent));
	sound.audio.src = URL.createObjectURL(new Blob([bytes], { type: "audio/flac" }));
}

function placesOf(text) {
	return text.split(";").filter(Boolean).map((place) => {
		const [number, from, to] = place.trim().split(" ").map(Number);
		return { sound: sounds[number], from, to };
	});
}

function stop() {
	clearInterval(timer);
	for (const s of sounds) s.audio.pause();
	play.textContent = "Play";
}

async function start() {
	const place = queue[at];
	stop();
	load(place.sound);
	const { audio, from } = place.sound;
	audio.playbackRate = audio.defaultPlaybackRate = Number(speed.value);
	if (audio.readyState < 1) await new Promise((done) => audio.addEventListener("loadedmetadata", done, { once: true }));
	audio.currentTime = Math.max(0, place.from - before - from);
	await audio.play();
	play.textContent = "Stop";
	now.textContent = `${at + 1} of ${queue.length}`;
	timer = setInterval(() => {
		if (audio.currentTime + from < place.to + after && !audio.ended) return;
		if (++at < queue.length) return start();
		at = 0;
		if (loop.getAttribute("aria-pressed") === "true") return start();
		finish();
	}, 30);
}

function finish() {
	stop();
	lit?.classList.remove("playing");
	now.textContent = idle;
}

document.body.addEventListener("click", (event) => {
	const button = event.target.closest("[data-places]");
	const places = button ? placesOf(button.dataset.places) : [];
	if (!places.length) return;
	const again = button === lit && play.textContent === "Stop";
	finish();
	if (again) return;
	[queue, at, lit] = [places, 0, button];
	lit.classList.add("playing");
	play.disabled = false;
	start();
});

play.addEventListener("click", () => {
	if (play.textContent === "Stop") return finish();
	at = 0;
	lit?.classList.add("playing");
	start();
});
loop.addEventListener("click", () => loop.setAttribute("aria-pressed", loop.getAttribute("aria-pressed") !== "true"));
speed.addEventListener("change", () => {
	for (const s of sounds) s.audio.playbackRate = s.audio.defaultPlaybackRate = Number(speed.value);
});
document.addEventListener("keydown", (event) => {
	if (event.key === "Escape") finish();
});
