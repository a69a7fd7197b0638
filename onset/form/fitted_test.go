package form

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
)

// What is read of the file of grooves is all that it has.
func TestGroovesFile(t *testing.T) {
	out, err := json.MarshalIndent(fittedGrooves, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	if in := bytes.TrimSpace(fittedFile("grooves")); !bytes.Equal(in, out) {
		t.Errorf("written anew the file has %d bytes, not %d", len(out), len(in))
	}
}

// Files that do not hold what they should are refused, and the error says why.
func TestBadGrooves(t *testing.T) {
	good := string(fittedFile("grooves"))
	for _, c := range []struct{ from, to, want string }{
		{`"snare"`, `"tambourine"`, "tambourine"},
		{`"9000121 8000130`, `"9000121`, "4 strands, want 5"},
		{`"9000121 8000130`, `"9000121 800013`, "not 7 digits"},
		{`"9000121 8000130`, `"9000121 800013x`, "not 7 digits"},
		{`"9000121 8000130 6001332 7001331 2010010",`, "", "3 beats, want 4"},
		{`{`, `[`, "reading grooves"},
	} {
		bad := strings.Replace(good, c.from, c.to, 1)
		if bad == good {
			t.Fatalf("the file has no %q", c.from)
		}
		if _, err := readGrooves([]byte(bad)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s for %s: error %v, want one about %q", c.to, c.from, err, c.want)
		}
	}
}

// The shares of the levels of each strand add up to 1, but for rounding.
func TestSharesAddUp(t *testing.T) {
	for name, shares := range map[string]Shares{
		"hit": fittedGrooves.Hit, "rest": fittedGrooves.Rest, "usual": fittedGrooves.Usual,
	} {
		for s, of := range shares {
			if all := sum(of[:]); all < 0.995 || all > 1.005 {
				t.Errorf("%s of %s: %g", name, StrandNames()[s], all)
			}
		}
	}
}
