// Package tab is the tab document: what was played, when, on which holes, how
// sure the transcriber is, and what else it may have been. It writes documents
// as text, JSON and CSV, and reads the text back after a player has edited it.
//
// # The text document, version 1
//
// A document looks like this:
//
//	blowdraw tab 1
//
//	recording: porch.wav
//	section:   0:00.000 to 0:15.000
//	harp:      C
//	layout:    richter
//	song:      G, second position
//	tuning:    12.3 cents flat
//
//	    time  length  tab      degree      marks
//
//	Phrase 1  0:02.413 to 0:03.602  1.2 s
//	0:02.413   0.308  -4       5           scoop vibrato
//	0:02.721   0.204  -3'      b3          +35c           ? 62%, how far bent, or -3'' 25%, 3 10%
//	0:02.991   0.611  [-1 -4]  5 5 octave  # tongue-blocked
//
//	space 1.4 s
//
//	Phrase 2  0:05.002 to 0:05.410  0.4 s
//	0:05.002   0.408  2        6                          checked
//
//	Marks
//	scoop         begins low and slides up into the note
//	vibrato       throat vibrato: pitch and loudness swing together
//	cents         +30c or -30c: so many cents above or below what the tab says, on purpose or not
//
// Each event has a line of its own: when it starts, how long it lasts in
// seconds, what is played, and behind two spaces or more, in a column of their own,
// the degrees of the song's key that it sounds, lowest first, with the interval of a
// split. It starts where a listener hears it start: where it has risen to 10 dB under its
// level, not at its first trace. Where a reed is heard over 80 ms after others, or ends so long
// before them, what sounds with it and without it are lines of their own. Marks say how it is
// played, in the words of [MarkWords]; a number with c is how many cents the pitch lies above or
// below what the tab says, one with dB how much weaker one of two reeds is that only bleeds in. A
// question mark says that the
// transcriber is unsure: it gives its confidence, then what is in doubt, then what
// else it may have been. Delete the mark once you have decided. The degrees, the numbers
// of the phrases, the spaces, the line of column names and the list of marks at the end
// are there for the reader; they are written afresh from the rest.
//
// # Doubt
//
// What is in doubt is told in words, those of [DoubtWords], the likeliest first: which hole,
// how far bent, blow or draw, one reed or two, how many reeds, starts earlier, starts later,
// ends earlier, ends later, perhaps held over (the note before goes on, and nothing begins
// here), perhaps nothing, perhaps not the harp. A player who knows no more writes when it
// starts, when it ends, or unsure. Behind them stand other readings with their
// probabilities, as far as they are known; nearest is what the harp has nearest to a sound
// that it lacks, and of several notes names the one that each is for.
//
//	-3    ? 62%, which hole, or [2 3] 20%, 2 9%
//	-4    ? 41%, perhaps not the harp
//	4     ? starts earlier
//	-2    ? or 2
//	{B4 A5}  ? nearest -7 for B4, -10 for A5
//
// A question mark alone is 50%. One that is sure of itself (? 95%) is kept with the word
// unsure, lest it be lost. Of a sound that the harp lacks the percents say how surely that
// note was heard; from 90% on, and in a line without them, they are left out. Short forms
// are read as what they stand for: hole, bend, breath, reeds, start, end, harp.
//
// # Checked by ear
//
// The word checked behind an event says that somebody has listened and found it right, and
// behind the heading of a phrase that this goes for all of the phrase. It stands before the
// doubt, if there still is one. An exclamation mark is read as the same word.
//
//	Phrase 1  0:02.413 to 0:03.602  1.2 s  checked
//
// # Tokens
//
// A blow note is its hole, a draw note has a minus before it; each ' bends it a
// semitone down; o is an overblow, or with the minus an overdraw; notes played
// together stand in brackets. (The signs are common practice among players, no
// source; the brackets are ours.) A sound that the harp cannot play is given in
// braces as notes with the cents they are off (after the recording's tuning),
// spelled as [harp.Harp.NoteName] does.
//
//	4  -4  -3''  6o  -7o  [-4 -5]  [1 4]  {Bb4+30}
//
// Other common spellings are understood and written as these: see [ParseToken]. The
// breath may also be a word before or behind the hole: 2 draw, blow 4.
//
// # Bars
//
// Where the beat is known the header names the meter, bar lines stand between the
// events, each with its number, its time and perhaps the chords under it, and
// events have a column for the place where they start: 2|3 is the third beat of
// bar 2, 2|3+2/3 two thirds of a beat later (the nearest third, quarter or half
// of a beat; in 12/8 the nearest third). A ~ behind a place says that the event begins a
// little after another at the same place. A bar line that may lie elsewhere has a doubt: ? 63%.
//
//	meter:     12/8
//
//	    time  length  bar      tab  degree
//
//	bar 1  0:00.000  I
//
//	Phrase 1  0:01.190 to 0:03.333  2.1 s, 3.0 beats
//	0:01.190   0.952  1|2+2/3  -2   1
//	bar 2  0:02.857  IV
//	0:02.857   0.476  2|1      -4   5
//
// A header line form names the form of the song, which bar 1 begins: in a
// twelve-bar form bar 13 does so again.
//
// Times count: places, and lengths in beats, are written afresh from the bar
// lines. Move a bar line by its time; the number of the first one counts, the
// others follow. A line of one's own may give its place instead of its time.
//
// # Lines of one's own
//
// A line that a player adds needs no times. Without a length it lasts as long as
// the event above, or until the next. Without a time as well it follows the event
// above it in its phrase, or comes right before the event below; where there is
// no room, it shares the time of the event above. A blow note without a length is
// written +4 if a degree follows it, since 4 would be the length.
//
//	0:02.413   0.308  -4       5
//	-3b        # I hear one more
//	0:03.1     [1 4]           ?
//
// # Several notes on a line
//
// A line without time and place may hold several notes, parted by spaces or commas:
// each is an event that follows the one before it, as on lines of their own. A mark
// belongs to the note before it. Where a word says the breath of one note, each needs a
// sign, a letter or a word, since that word may be meant for all.
//
//	-4 -3' -2 vibrato
//
// On a line with a time or a place several notes are a mistake. Whether they sound
// together or in turn is not said, nor, in turn, when each begins, and a wrong guess
// would look right. The mistake names the line to write: brackets, or one note a line.
//
// # Degree or note
//
// A number behind the tab may be a degree or a note, so it counts as a degree only
// where nothing else can be meant: it is that of the notes, and it stands in the
// degree column, which is to say below a line of column names, on a line with a time,
// and two spaces or a tab behind what is played. Degrees with other words among them
// (b3, an interval) stand anywhere, if they are those of the notes. Some may be left out.
//
// All else is a mistake. Degrees in the column that are not those of the notes, as
// where the tab was changed, are told, and the event is read all the same; any other
// line with such a mistake is not read, lest a note be lost.
//
// # Damage
//
// A line that can't be read is reported, with its column and what was expected
// there, and kept: it is written again, in its place, as a comment. Repair it and
// delete the first words:
//
//	# not understood: 0:02.7O0   0.204  -3'      b3
//
// # Plain tab
//
// Tab as players write it down has no header and no times: lines of notes, words to
// sing under them, bar signs. [ReadPlain] reads it for a harp that is named; it is no
// document, but becomes one. (The spellings are common practice, no source.)
//
//	Slow one, in G
//	-2 -3b 4 -4 | 5 -5
//	woke up this morning
//	(x2) 6 -5 | [-4 -5] 4~  # hold
//
// A line is tab if it has more notes than other words, or as many and one of them is
// surely a note, by its sign, bend, letter or brackets; other lines are words. Notes are
// spelled as above, and so: with the sign behind (4- 4+), with arrows (up is blow, down
// draw), with the letter of the breath before the hole (D4 B4) if no note is written
// without it and no other letters of chords stand in the text. A hole in round brackets
// is draw where no note of the text has another sign of draw. A small b behind a hole
// without a sign is a bend in a text that bends so behind signs, the letter of blow in
// one that has d for draw, else a mistake.
//
// A sign of | and : is a bar line. Where a text has some each of its lines of tab begins a
// bar, and a sign at the front or the end of a line adds none. Repeat signs are bar lines; what
// is repeated is not written out, which is told.
//
// Nothing is lost. A line of words is a comment of its own, in its place. Other words on
// a line of tab are a comment of the note before them, or, before the first, a comment of
// its own above it. What looks like a note and can't be read is such a comment behind "not
// understood:", and told. What stands behind a note in signs (4~ -3* 5...) is told, too, and kept as
// its comment. Told are also lines of words that have notes among them.
//
// Times are made up, unless the notes are found in a recording: every note lasts a beat, or
// where there are bar lines every bar is as long as another and its notes share it. Each
// line of tab is a phrase then.
//
//	plain    = { words | tabline } { blank }
//	tabline  = { bar | plainnote | mark | word }
//	bar      = ( "|" | ":" ) { "|" | ":" }          with one "|" at least
//	plainnote = [ arrow ] token [ arrow ] { sign }
//	         | hole { "'" | "b" } ( "+" | "-" ) | ( "B" | "D" ) hole { "'" | "b" }
//	arrow    = "↑" | "↓"
//	sign     = "~" | "*" | "^" | "!" | "." | "_" | ">" | "…"
//
// # Grammar
//
// Lines end in LF or CRLF. Blank lines, and spaces and tabs beyond the one that
// parts two words, do not count, but before a degree. A # at the start of a line or after a space
// begins a comment, except in header lines. Comments are kept: one on a line of
// its own stays above the event that it stood above.
//
//	document = [ "blowdraw tab 1" ] { header } { event | phrase | space | bar | columns | legend }
//	header   = name ":" value
//	name     = "recording" | "section" | "harp" | "layout" | "blow" | "draw" | "song"
//	         | "tuning" | "tempo" | "meter" | "form" | "channel" | "ear" | "note" | other
//	event    = [ time [ length ] ] [ place ] token { degree | interval | mark | checked } [ doubt ]
//	         | token { mark | checked } { [ "," ] token { mark | checked } }
//	checked  = "checked" | "!"
//	token    = note { "/" note } | "[" notes "]" | "(" notes ")" | "{" { pitch } "}"
//	notes    = note { [ "/" ] note }
//	note     = [ "+" | "-" ] hole [ "B" | "D" | "d" ] [ { "'" } | { "b" } | "o" ]
//	         | ( "draw" | "blow" ) note | note ( "draw" | "blow" )
//	pitch    = notename [ ( "+" | "-" ) cents ]
//	doubt    = "?" [ percent "%" ] { [ "," ] ( doubtword | readings ) }
//	readings = ( "or" | "nearest" ) option { ( "," | "or" ) option }
//	option   = ( token | "rest" ) [ "for" notename ] [ percent "%" ]
//	place    = bar "|" beat [ "+" number "/" number ] [ "~" ]
//	phrase   = "Phrase" [ number ] [ time "to" time [ lengths ] ] [ checked ]
//	space    = "space" lengths
//	lengths  = seconds "s" [ "," beats "beats" ]
//	bar      = "bar" number time { chord } [ "?" [ percent "%" ] ]
//	columns  = { "time" | "length" | "bar" | "tab" | "degree" | "marks" }
//	mark     = markword | ( "+" | "-" ) cents "c" | "-" decibels "dB"
//	legend   = "Marks" | ( markword | "bleed" | "cents" ) meaning
//	time     = [ [ hours ":" ] minutes ":" ] seconds
//
// Header values: section is time "to" time; harp is a key such as D or low F; layout
// is the name of a layout, followed for one that is not built in by its rows blow
// and draw in semitones above hole 1 blow; song is a key, in minor with m behind it
// (Gm), with the position of its tonic behind a comma, and (assumed) behind that if it is only the
// usual one for the harp, as it is without such a line; tuning is a number and
// "cents", with "sharp" or "flat"; tempo is a number and "bpm"; meter is 4/4, 12/8
// (four beats in triplets) or 3/4; a chord is a degree of the song's key in Roman
// numerals, such as I, IV7 or bVII, and several share the bar equally. Harp
// must be there; note may come more than once. The first line may be missing where there is a
// harp. Seconds alone are a time if they have a point, as 15.557. An other name is a word of letters,
// hyphens and underscores that the document does not use itself; such lines are
// kept. A markword is a name of [MarkWords] other than bleed and cents, and a
// meaning is what it says there. A doubtword is one of [DoubtWords], or a short form; what
// is in doubt may also stand behind the readings. The comma before a doubtword or readings
// may be left out behind the question mark and its percents. The letter of the breath may
// stand before the bend or behind it. A phrase without times runs from its first
// event to the end of its last. Times have three decimals, percents none.
package tab
