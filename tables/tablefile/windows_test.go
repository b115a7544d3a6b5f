package tablefile

import (
	"strings"
	"testing"
)

// TestWindowsNames runs the rules of the Windows build on any system.
func TestWindowsNames(t *testing.T) {
	for _, ok := range []string{"van.json", `C:\shop\van.json`, `C:van.json`, "c:/shop/van.json", `\\server\share\van.json`, `..\van.json`,
		`\\?\C:\` + strings.Repeat(`folder\`, 60) + "van.json", "NUL", "nul", `C:\con\van.json`, "console.json", "com0.json", "com10.json",
		"van.con", "Δp.json", "a b.json", ".json"} {
		if err := windowsName(ok); err != nil {
			t.Errorf("%s is refused: %v", ok, err)
		}
	}
	for _, bad := range []string{"CON.json", "con", `C:\work\aux.csv`, "com1.xlsx", "LPT9.json", "lpt².json", "nul.json", "nul.tar.json", "CON .json",
		"conin$", "van.json.", "van.json ", "van.json:hidden", "va?n.json", "a*.json", `a"b.json`, "a|b.json", "a<b.json", "a\tb.json", `\\.\COM1`} {
		if err := windowsName(bad); err == nil {
			t.Errorf("%q is taken", bad)
		}
	}
}

// TestWindowsPathsHaveExtensions: backslashes and drives change nothing.
func TestWindowsPathsHaveExtensions(t *testing.T) {
	for path, want := range map[string]string{`C:\shop\van.json`: JSON, `C:van.csv`: CSV, `..\a.b\van.XLSX`: XLSX, `\\server\share\van.json`: JSON} {
		if got, err := Format(path); err != nil || got != want {
			t.Errorf("%s is %q, want %q (%v)", path, got, want, err)
		}
	}
}
