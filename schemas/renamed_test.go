package schemas

import (
	"strings"
	"testing"
)

// A profile of an earlier version is read as one with the present names, and says so. A
// column of the export that happens to have an old name keeps it.
func TestOldNames(t *testing.T) {
	t.Parallel()
	text := strings.Replace(string(ShippedProfileText()), "  stabiliser_trim: {column: trim,", "  stabilizer_trim: {column: stabilizer_trim,", 1)
	text = strings.Replace(text, "  takeoff_warning_required: >-", "  takeoff_warning_due: >-", 1)
	p, err := ParseProfile("old.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	if s := p.Columns["stabiliser_trim"]; len(s) != 1 || s[0].Column != "stabilizer_trim" {
		t.Errorf("stabiliser_trim is read from %v", s)
	}
	if p.Criteria["takeoff_warning_required"] == "" {
		t.Error("the criterion is lost")
	}
	notes := p.Document().OldNames()
	if len(notes) != 2 || !strings.HasPrefix(notes[0], "old.yaml:") || !strings.HasSuffix(notes[0], ": stabilizer_trim is now called stabiliser_trim; the old name is still read") {
		t.Errorf("notes %q", notes)
	}
	if p, ok := LookupParameter("stabilizer_trim"); !ok || p.Name != "stabiliser_trim" {
		t.Errorf("the old name means %q", p.Name)
	}
}

// Two old names on a line are both renewed, and what is between them stays.
func TestOldNamesOnALine(t *testing.T) {
	t.Parallel()
	d, err := ParseDocument("p.yaml", []byte("criteria: {takeoff_warning_due: a, é: takeoff_warning_due, lever_lock_release_due: b}\n"))
	if err != nil {
		t.Fatal(err)
	}
	if got, want := strings.Join(d.lines, "\n"), "criteria: {takeoff_warning_required: a, é: takeoff_warning_due, lever_lock_release_permitted: b}\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// An old name in a comment is nobody's business; in an expression it is told, once, and stays.
func TestOldNamesAreTold(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ text, renewed, notes string }{
		{"# stabilizer_trim\na: b", "", ""},
		{"a: b # stabilizer_trim", "", ""},
		{"a: stabilizer_trim > 1 and stabilizer_trim < 2\nb: stabilizer_trim or takeoff_warning_due", "",
			"p.yaml:1: stabilizer_trim is now called stabiliser_trim; the old name is still read\np.yaml:2: takeoff_warning_due is now called takeoff_warning_required; the old name is still read"},
		{"columns: {stabilizer_trim: a}", "columns: {stabiliser_trim: a}", "p.yaml:1: stabilizer_trim is now called stabiliser_trim; the old name is still read"},
	} {
		d, err := ParseDocument("p.yaml", []byte(c.text))
		if err != nil {
			t.Fatal(err)
		}
		if c.renewed == "" {
			c.renewed = c.text
		}
		if text, notes := strings.Join(d.lines, "\n"), strings.Join(d.OldNames(), "\n"); text != c.renewed || notes != c.notes {
			t.Errorf("%s\nis read as\n%s\nnotes %s", c.text, text, notes)
		}
	}
}

// No name means two things: an old one is none of the present.
func TestRenamedAreGone(t *testing.T) {
	t.Parallel()
	for old, now := range words().Renamed {
		if kindOfName(now) == "" {
			t.Errorf("%s is nothing of the vocabulary", now)
		}
		if kindOfName(old) != "" && NameNow(old) == old {
			t.Errorf("%s is still a name", old)
		}
	}
}
