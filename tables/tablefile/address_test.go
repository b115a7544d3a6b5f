package tablefile

import "testing"

func TestSplitTable(t *testing.T) {
	for _, c := range []struct{ address, file, id, why string }{
		{"van.json:injector.flow", "van.json", "injector.flow", "the plain case"},
		{"van.json", "van.json", "", "no table named"},
		{`C:\shop\van.json`, `C:\shop\van.json`, "", "a drive letter is no file"},
		{`C:\shop\van.json:spark`, `C:\shop\van.json`, "spark", "the last colon counts"},
		{`C:/shop/van.json`, `C:/shop/van.json`, "", "slashes are Windows paths too"},
		{"C:van.json", "C:van.json", "", "relative to a drive's own folder"},
		{`\\server\share\van.csv:a-b_c`, `\\server\share\van.csv`, "a-b_c", "a share"},
		{"odd:name/van.json", "odd:name/van.json", "", "a slash is in no id"},
		{"van.json:", "van.json:", "", "nothing follows"},
		{"-:spark", "-", "spark", "standard input"},
	} {
		if file, id := SplitTable(c.address); file != c.file || id != c.id {
			t.Errorf("%q: got %q and %q, want %q and %q: %s", c.address, file, id, c.file, c.id, c.why)
		}
	}
}
