package book

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"unicode/utf16"
)

// What XML cannot carry stands in a workbook as _xHHHH_ (ISO/IEC 29500-1, 22.9.2.19,
// ST_Xstring), a character beyond the first 65,536 as the two of its pair of
// surrogates. The patterns are made when text first needs them.
var (
	toEscape = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`[\x00-\x08\x0b-\x1f\x{fffe}\x{ffff}]|_x[0-9a-fA-F]{4}`)
	})
	escaped = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`(?i)_xd[89ab][0-9a-f]{2}__xd[c-f][0-9a-f]{2}_|_x[0-9a-f]{4}_`)
	})
)

// escape writes what XML cannot carry, the carriage return too, which programs would
// turn into a line feed; and guards text that only looks like such an escape, whether
// or not another underline follows: what follows may itself be escaped and begin with
// one.
func escape(s string) string {
	return toEscape().ReplaceAllStringFunc(s, func(found string) string {
		if rest, guard := strings.CutPrefix(found, "_"); guard {
			return "_x005F_" + rest
		}
		return fmt.Sprintf("_x%04X_", []rune(found)[0])
	})
}

// unescape turns [escape] round, and reads what other programs escaped, which may be
// any character; half a pair is none. What only looks like an escape, and is none by
// the standard's letter (it has no second underline), stays as it is.
func unescape(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	return escaped().ReplaceAllStringFunc(s, func(found string) string {
		unit := func(at int) rune {
			n, _ := strconv.ParseUint(found[at:at+4], 16, 16) // the pattern has four digits there
			return rune(n)
		}
		if len(found) > len("_xHHHH_") {
			return string(utf16.DecodeRune(unit(2), unit(9)))
		}
		return string(unit(2))
	})
}
