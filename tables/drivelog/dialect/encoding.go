package dialect

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// Encoding is how a log's characters are written. Latin-1 means its superset
// Windows-1252, as everywhere since the web.
type Encoding int

// The encodings in which loggers write. UTF-8 is taken where nothing speaks
// against it.
const (
	Utf8Text Encoding = iota
	latin1
	utf16LE
	utf16BE
)

// Encodings are their names, as they may be asked for.
var Encodings = []string{Utf8Text: "utf-8", latin1: "latin-1", utf16LE: "utf-16le", utf16BE: "utf-16be"}

// String is the encoding's name.
func (e Encoding) String() string { return Encodings[e] }

// Wide reports whether a character takes two bytes or more.
func (e Encoding) Wide() bool { return e == utf16LE || e == utf16BE }

// EncodingOf is the encoding of one of the names.
func EncodingOf(name string) Encoding { return Encoding(slices.Index(Encodings, name)) }

// DetectEncoding reports how the first bytes of a log are written, and how many
// of them are a byte-order mark. An error says that they are not text.
func DetectEncoding(head []byte) (e Encoding, mark int, why string, err error) {
	switch {
	case bytes.HasPrefix(head, []byte("\xef\xbb\xbf")):
		return Utf8Text, 3, "it begins with the mark of UTF-8", nil
	case bytes.HasPrefix(head, []byte("\xff\xfe")):
		return utf16LE, 2, "it begins with the mark of UTF-16, low byte first", nil
	case bytes.HasPrefix(head, []byte("\xfe\xff")):
		return utf16BE, 2, "it begins with the mark of UTF-16, high byte first", nil
	}
	if len(head) > 4096 {
		head = head[:4096]
	}
	// Text in Latin letters has a zero in every second byte of UTF-16, and in none of any
	// other encoding; which of the two it is tells the byte order.
	var zeros [2]int
	control := 0
	for i, c := range head {
		switch {
		case c == 0:
			zeros[i&1]++
		case c < 0x20 && c != '\t' && c != '\n' && c != '\r' && c != '\f' && c != 0x1a && c != 0x1b:
			control++
		}
	}
	switch n := len(head) / 2; {
	case zeros[1] > n*2/3 && zeros[0] < n/10:
		return utf16LE, 0, "every second byte is zero", nil
	case zeros[0] > n*2/3 && zeros[1] < n/10:
		return utf16BE, 0, "every first byte of two is zero", nil
	case zeros[0]+zeros[1] > 0 || control > len(head)/50:
		return 0, 0, "", fmt.Errorf("it is not text: a drive log is CSV")
	}
	if validPrefix(head) {
		return Utf8Text, 0, "recognised by its first bytes", nil
	}
	return latin1, 0, "recognised by its first bytes not UTF-8", nil
}

// validPrefix reports whether b is UTF-8 but for a rune cut off at its end.
func validPrefix(b []byte) bool {
	whole := len(b)
	for whole > 0 && len(b)-whole < utf8.UTFMax-1 && !utf8.Valid(b[:whole]) {
		whole--
	}
	return utf8.Valid(b[:whole]) && (whole == len(b) || !utf8.FullRune(b[whole:]))
}

// Decoder turns UTF-16 into the UTF-8 that everything behind it reads.
func (e Encoding) Decoder() transform.Transformer {
	order := unicode.LittleEndian
	if e == utf16BE {
		order = unicode.BigEndian
	}
	return unicode.UTF16(order, unicode.IgnoreBOM).NewDecoder()
}

// Text is a header or a cell as a person reads it.
func (e Encoding) Text(b []byte) string {
	if e == latin1 {
		if s, err := charmap.Windows1252.NewDecoder().Bytes(b); err == nil {
			return string(s)
		}
	}
	return strings.ToValidUTF8(string(b), "\ufffd")
}

// toWindows1252 is the byte that a character came from; the few codes that
// Windows-1252 leaves open stand for themselves.
func toWindows1252(r rune) (byte, bool) {
	if c, ok := charmap.Windows1252.EncodeRune(r); ok {
		return c, true
	}
	return byte(r), r < 0x100
}

// Mend undoes one round of UTF-8 taken for Latin-1 and written as UTF-8 again,
// which turns "°C" into "Â°C".
func Mend(s string) string {
	if !strings.ContainsAny(s, "ÂÃâ") {
		return s
	}
	// Only what comes back as UTF-8 was written twice; a real "Â" does not.
	b := make([]byte, 0, len(s))
	for _, r := range s {
		c, ok := toWindows1252(r)
		if !ok {
			return s
		}
		b = append(b, c)
	}
	if !utf8.Valid(b) {
		return s
	}
	return string(b)
}
