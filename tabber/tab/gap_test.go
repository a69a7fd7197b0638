package tab

import (
	"bytes"
	"reflect"
	"testing"
)

// Gaps stand between the events as comments and come back from the text.
func TestGaps(t *testing.T) {
	d := example(t)
	d.Remarks = nil
	want := []Gap{{0, 1.25, false, 0}, {3.7, 4.8, true, 1}, {6, 9.001, true, 12}}
	for _, g := range want {
		d.AddGap(g)
	}
	var text bytes.Buffer
	if err := WriteText(&text, d); err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{"# 0:00.000 to 0:01.250 no harp\n",
		"# 0:03.700 to 0:04.800 probably a voice, 1 note left out\n",
		"# 0:06.000 to 0:09.001 probably a voice, 12 notes left out\n"} {
		if !bytes.Contains(text.Bytes(), []byte(line)) {
			t.Errorf("the text has no line %q:\n%s", line, text.String())
		}
	}
	read, err := Parse(&text)
	if err != nil {
		t.Fatal(err)
	}
	if got := read.Gaps(); !reflect.DeepEqual(got, want) {
		t.Errorf("read gaps %v, want %v", got, want)
	}
	d.Remarks = []Remark{
		{Before: 0, Text: "1:00 to 0:10 no harp"},
		{Before: 0, Text: "from 0:01 to 0:02 no harp"},
		{Before: 0, Text: "0:01.000 to 0:02.000 no harp here, I think"},
	}
	if got := d.Gaps(); got != nil {
		t.Errorf("words of the reader's own read as %v", got)
	}
}
