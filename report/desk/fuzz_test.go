package desk

import (
	"net/url"
	"testing"
)

// Whatever stands in an address, the filter of it comes back from the address it writes,
// and the desk has a worklist for it.
func FuzzFilter(f *testing.F) {
	dir, err := smallArchive()
	if err != nil {
		f.Fatal(err)
	}
	d, err := New(Options{Archive: dir, Token: "token"})
	if err != nil {
		f.Fatal(err)
	}
	for _, seed := range []string{"", "severity=high&page=3", "rule=gear-late&state=all&order=oldest+first", "from=2031-02&to=unknown&aircraft=TARN-01", "page=-1&page=9", "aerodrome=%00%ff&rule=<script>", "severity=high;x", "action=assigned+to+MX", "action=overdue&state=all"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		filter := filterOf(queryOf(text))
		back, err := url.ParseQuery(filter.Query())
		if err != nil || filterOf(back) != filter {
			t.Fatalf("%q comes back as %+v, not %+v", text, filterOf(back), filter)
		}
		p := d.pick(d.view(), filter)
		if n := p.counts[0] + p.counts[1] + p.counts[2]; n != len(p.places) || p.events < n {
			t.Errorf("%q: %d occurrences, %d counted", text, len(p.places), n)
		}
	})
}
