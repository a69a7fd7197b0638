package main

import (
	"errors"
	"fmt"
	"strings"

	"blowdraw/onset/form"
	"blowdraw/tabber/harp"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// groups of commands in the help, in order.
var groups = []struct {
	title    string
	commands []string
}{
	{"From a recording:", []string{"transcribe", "harps", "texture", "phrases", "study", "page"}},
	{"Make a tab right:", []string{"check", "refine", "compare", "render"}},
	{"Practise and share:", []string{"slow", "lesson", "retab", "export", "import"}},
	{"To look up:", []string{"demo", "layout", "marks", "tab", "help", "completion"}},
}

// helpWidth is how many columns a line of the help takes at most.
const helpWidth = 100

// arrange the help: commands in groups, flags in lines that fit, and an error for what
// is neither a command nor a shell, which cobra answers with help.
func arrange(root *cobra.Command) {
	wrapped := fmt.Sprintf("Flags.FlagUsagesWrapped %d |", helpWidth)
	root.SetUsageTemplate(strings.ReplaceAll(root.UsageTemplate(), "Flags.FlagUsages |", wrapped))
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd("completion")
	for _, g := range groups {
		root.AddGroup(&cobra.Group{ID: g.title, Title: g.title})
		for _, name := range g.commands {
			if c, _, err := root.Find([]string{name}); err == nil {
				c.GroupID = g.title
			}
		}
	}
	for _, c := range root.Commands() {
		completeFlags(c)
		switch c.Name() {
		case "completion":
			c.Short, c.Args = "Write a script by which a shell completes commands and flags", noCommand
			c.RunE = func(c *cobra.Command, _ []string) error { return c.Help() }
		case "help":
			c.Use, c.Short, c.Long, c.Run = "help [COMMAND]", "Explain a command",
				"Explains a command, as blowdraw COMMAND --help does.", nil
			c.Args = func(c *cobra.Command, args []string) error {
				about, rest, err := root.Find(args)
				if err != nil {
					return noCommand(root, args)
				}
				if about == root {
					return noCommand(root, rest)
				}
				return noArgs(root, rest)
			}
			c.RunE = func(_ *cobra.Command, args []string) error {
				about, _, err := root.Find(args)
				if err != nil {
					return err
				}
				about.InitDefaultHelpFlag()
				return about.Help()
			}
		}
	}
}

// words that flags can have, for completion; a command's own come first.
func words(command, flag string) []string {
	var layouts, keys, songs []string
	for _, l := range harp.Layouts() {
		layouts = append(layouts, l.Name)
	}
	for pc := range 12 {
		keys = append(keys, harp.KeyName(pc))
		songs = append(songs, harp.KeyName(pc), harp.KeyName(pc)+"m")
	}
	forms := []string{"none"}
	for _, f := range form.Forms() {
		forms = append(forms, f.Name)
	}
	channels := []string{"mix", "left", "right", "side"}
	switch command + " --" + flag {
	case "transcribe --channel":
		return append([]string{auto}, channels...)
	case "slow --channel":
		return append([]string{"stereo"}, channels...)
	case "study --format":
		return []string{"text", "json", "csv"}
	case "phrases --format":
		return []string{"table", "json", "csv"}
	}
	return map[string][]string{
		"harp": keys, "to-harp": keys, "song-key": songs,
		"layout": layouts, "channel": channels, "form": forms,
		"ear":    {"learned", "classical"},
		"format": {"tab", "json", "csv"},
		"meter":  {"4/4", "12/8", "3/4"},
		"marks":  {"none", "main", "all"},
		"keep":   {"music", "holes"},
		"tone":   {"dry", "room", "amp"},
		"cue":    {"phrase", "event"},
		"audio":  {"inside", "link"},
		"sound":  {"flac", "wav", "mp3", "m4a"},
		"as":     {"midi", "musicxml", "vtt", "srt", "sheet", "csv", "json"},
	}[flag]
}

// completeFlags of a command whose words are known.
func completeFlags(c *cobra.Command) {
	c.Flags().VisitAll(func(f *pflag.Flag) {
		list := words(c.Name(), f.Name)
		if list == nil {
			return
		}
		directive := cobra.ShellCompDirectiveNoFileComp
		if f.Name == "layout" { // may be a file
			directive = cobra.ShellCompDirectiveDefault
		}
		c.RegisterFlagCompletionFunc(f.Name, cobra.FixedCompletions(list, directive))
	})
}

// flagError says what is wrong with a flag in words for players.
func flagError(c *cobra.Command, err error) error {
	if e, ok := errors.AsType[*pflag.NotExistError](err); ok && e.GetSpecifiedShortnames() == "" {
		var names []string
		c.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		if name := nearest(e.GetSpecifiedName(), names); name != "" {
			return fmt.Errorf("%w; is --%s meant?", err, name)
		}
	}
	if e, ok := errors.AsType[*pflag.InvalidValueError](err); ok {
		kinds := map[string]string{"int": "a whole number", "float64": "a number", "float": "a number",
			"bool": "true or false"}
		if kind := kinds[e.GetFlag().Value.Type()]; kind != "" {
			return fmt.Errorf("--%s %q: want %s", e.GetFlag().Name, e.GetValue(), kind)
		}
	}
	if e, ok := errors.AsType[*pflag.ValueRequiredError](err); ok {
		return fmt.Errorf("--%s wants a value behind it", e.GetFlag().Name)
	}
	return err
}

// tabExample is a tab as a player may write it.
const tabExample = `blowdraw tab 1
harp: A
song: E
tempo: 96 bpm

Phrase
0:02.4 0.3 -4 scoop vibrato
0:02.7 0.2 -3' ? 62%, or -3'' 25%, 3 10%
0:03.0 0.6 [-1 -4]     # tongue-blocked

Phrase
0:05.0 0.4 2
-3b
-4
`

func newTabCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "tab",
		Short: "Explain how a tab is written, to edit it in any editor",
		Args:  noArgs,
		Long: `Explains how a tab is written. It is plain text, one event a line:

` + indented(tabExample) + `
An event is when it starts (minutes:seconds), how many seconds it lasts, what is
played, and perhaps marks (see blowdraw marks) and a doubt. Lines that you add need
no times: they follow the line above, and may hold several notes in turn, -4 -3' -2.

  4         blow 4                 [1 4]     blown together
  -4        draw 4                 [-4 -5]   drawn together
  -3'  -3b  bent a semitone down   6o  -7o   overblow, overdraw
  -3''      bent a whole tone      {Bb4+30}  a sound that the harp lacks: note, cents

  ? 62%, or 3 10%   the transcriber is unsure, and says what else it may be; delete
                    it once you have decided, put a ? where you want it asked again
  # words           your own comment; it is kept
  Phrase            begins a phrase
  bar 5 0:12.0 IV   a bar line, with the chord under it

The header needs harp and song; it may have recording, section, layout, tuning,
tempo, meter and form, and lines of your own (word: text), which are kept. What
can't be read is told with its line, and stays as a comment.`,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
}

func indented(text string) string {
	out := ""
	for line := range strings.Lines(text) {
		if line != "\n" {
			line = "  " + line
		}
		out += line
	}
	return out
}
