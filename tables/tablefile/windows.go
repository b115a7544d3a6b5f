package tablefile

import (
	"fmt"
	"strings"

	"calsplice/tables"
)

// windowsName refuses a path to write to that Windows would not take for the
// file that it names: a device ("CON.json", "com1.csv"), a name that ends in a
// dot or a blank, which Windows takes away, a second colon, which begins a
// hidden stream of another file, and characters that no name may hold. "NUL" by
// itself is a device that may be written to.
//
// It looks at text alone, so that the rules are tested on every system.
func windowsName(path string) error {
	name := path
	if len(name) >= 2 && name[1] == ':' && letter(name[0]) {
		name = name[2:] // a drive
	}
	name = strings.TrimPrefix(strings.ReplaceAll(name, "/", `\`), `\\?\`)
	if strings.HasPrefix(name, `\\.\`) {
		return fmt.Errorf("%s is a device", tables.Quote(path))
	}
	if len(name) >= 2 && name[1] == ':' && letter(name[0]) {
		name = name[2:]
	}
	name = name[strings.LastIndexByte(name, '\\')+1:]
	if strings.EqualFold(name, "NUL") {
		return nil
	}
	for _, c := range name {
		if c < ' ' || strings.ContainsRune(`<>:"|?*`, c) {
			return fmt.Errorf("%q cannot stand in a file name on Windows", c)
		}
	}
	if strings.HasSuffix(name, ".") || strings.HasSuffix(name, " ") {
		return fmt.Errorf("%s ends in a dot or a blank, which Windows takes away", tables.Quote(name))
	}
	stem, _, _ := strings.Cut(name, ".")
	if device(strings.ToUpper(strings.TrimRight(stem, " "))) {
		return fmt.Errorf("%s is the name of a device on Windows", tables.Quote(name))
	}
	return nil
}

func letter(c byte) bool { return 'a' <= c|0x20 && c|0x20 <= 'z' }

// device reports whether an upper-case stem is reserved (Microsoft, "Naming
// Files, Paths, and Namespaces").
func device(stem string) bool {
	switch stem {
	case "CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$":
		return true
	}
	for _, port := range []string{"COM", "LPT"} {
		if number, ok := strings.CutPrefix(stem, port); ok && len([]rune(number)) == 1 && strings.Contains("123456789¹²³", number) {
			return true
		}
	}
	return false
}
