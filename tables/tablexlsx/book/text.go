package book

import (
	"fmt"
	"strconv"
	"strings"
)

// escape writes what XML cannot carry as _xHHHH_ (ISO/IEC 29500-1, 22.9.2.19,
// ST_Xstring), the carriage return too, which programs would turn into a line
// feed; and guards text that only looks like such an escape.
func escape(s string) string {
	dirty := func(r rune) bool { return r < 0x20 && r != '\t' && r != '\n' || r == 0xfffe || r == 0xffff }
	if !strings.Contains(s, "_x") && strings.IndexFunc(s, dirty) < 0 {
		return s
	}
	var b strings.Builder
	for i, r := range s {
		switch {
		case dirty(r):
			fmt.Fprintf(&b, "_x%04X_", r)
		case r == '_' && len(s) >= i+6 && s[i+1] == 'x' && isHex4(s[i+2:i+6]):
			// Guarded whether or not another '_' follows: what follows may
			// itself be escaped and begin with one.
			b.WriteString("_x005F_")
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// unescape turns [escape] round, and reads what other programs escaped, which may be
// any character. What only looks like an escape, and is none by the standard's
// letter (it has no second underline), stays as it is.
func unescape(s string) string {
	at := strings.Index(s, "_x")
	if at < 0 {
		return s
	}
	var b strings.Builder
	for ; at >= 0; at = strings.Index(s, "_x") {
		b.WriteString(s[:at])
		s = s[at:]
		if len(s) < 7 || s[6] != '_' || !isHex4(s[2:6]) {
			b.WriteByte('_')
			s = s[1:]
			continue
		}
		n, _ := strconv.ParseUint(s[2:6], 16, 32)
		s = s[7:]
		if n >= 0xd800 && n < 0xe000 {
			n = surrogates(n, &s)
		}
		b.WriteRune(rune(n))
	}
	b.WriteString(s)
	return b.String()
}

// surrogates joins an escaped pair of UTF-16 surrogates, the first of which
// has been read; half a pair is no character.
func surrogates(high uint64, s *string) uint64 {
	t := *s
	if high < 0xdc00 && len(t) >= 7 && strings.HasPrefix(t, "_x") && t[6] == '_' && isHex4(t[2:6]) {
		if low, _ := strconv.ParseUint(t[2:6], 16, 32); low >= 0xdc00 && low < 0xe000 {
			*s = t[7:]
			return 0x10000 + (high-0xd800)<<10 + (low - 0xdc00)
		}
	}
	return 0xfffd
}

// isHex4 reports whether text is four hexadecimal digits, in either case: other
// programs write small ones.
func isHex4(s string) bool {
	for i := range len(s) {
		if !strings.ContainsRune("0123456789abcdefABCDEF", rune(s[i])) {
			return false
		}
	}
	return len(s) == 4
}
