// Counting along: beats of the bar, tapped while the recording plays, saved for the
// command that lays bars over the tab. They also tell the tempo.

const counted = []; // {at, n}: ms, number in the bar

// countBeat is a beat now; what was counted later is counted anew.
function countBeat(n) {
	if (!player.playing) return tell("Play, and count along: 1 on the first beat of each bar.");
	const at = Math.round(player.now);
	while (counted.length && counted.at(-1).at > at - 100) counted.pop();
	counted.push({ at, n });
	showCounted();
	const [a, b] = counted.slice(-2);
	tell(`Beat ${n}${b ? `, ${Math.round(60000 / (b.at - a.at))} a minute` : ""}. ${counted.length} counted.`);
}

// countOn is the beat after the last, four to the bar.
const countOn = () => countBeat(((counted.findLast((c) => c.at < player.now - 100)?.n ?? 0) % 4) + 1);

function showCounted() {
	$("beats").hidden = counted.length < 2;
	$("beats").textContent = `Save ${counted.length} beats`;
	if (counted.length > 3) $("bpm").value = (60000 * (counted.length - 1) / (counted.at(-1).at - counted[0].at)).toFixed(1);
	draw();
}

function saveBeats() {
	const file = data.file.replace(/\.[^.]*$/, "") + ".beats.txt";
	const lines = counted.map((c) => `${(c.at / 1000).toFixed(3)} ${c.n}\n`);
	download(file, "# beats counted along, seconds and number in the bar\n" + lines.join(""));
	tell(`Saved as ${file} among your downloads. To lay bars: blowdraw export ${data.file} --as tab --taps ${file} -o barred.tab`);
}

// paintCounted draws what was counted above the lanes.
function paintCounted() {
	pen.font = "bold 12px system-ui, sans-serif";
	pen.fillStyle = view.colors.brass;
	for (const c of counted) {
		const x = xOf(c.at);
		if (x < gutter - 20 || x > view.width) continue;
		pen.fillRect(Math.round(x) - 1, ruler - 8, c.n === 1 ? 3 : 1, c.n === 1 ? view.height : 14);
		pen.fillText(String(c.n), x + 4, ruler + 2);
	}
}
