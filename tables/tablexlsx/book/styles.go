package book

import (
	"regexp"
	"strconv"
	"strings"
	"sync"

	"calsplice/tables/sheet"
)

// readStyles finds out which styles show a number as a date or a percentage. A cell
// holds the same number either way, 0.05 for 5 %: what a person meant by it is only
// in its look, so that the caller must ask.
func (b *Book) readStyles() error {
	var styles struct {
		Formats []struct {
			ID   string `xml:"numFmtId,attr"`
			Code string `xml:"formatCode,attr"`
		} `xml:"numFmts>numFmt"`
		Cells []struct {
			ID string `xml:"numFmtId,attr"`
		} `xml:"cellXfs>xf"`
	}
	err := b.decode(b.styles, &styles)
	codes := map[string]string{}
	for _, f := range styles.Formats {
		codes[f.ID] = f.Code
	}
	for _, c := range styles.Cells {
		b.looks = append(b.looks, look(c.ID, codes[c.ID]))
	}
	return err
}

// look reports what a number format makes of a number: by its own code, or by
// the built-in ones (ISO/IEC 29500-1, 18.8.30).
func look(id, code string) sheet.Kind {
	if code == "" {
		switch n, _ := strconv.Atoi(id); {
		case n == 9 || n == 10:
			return sheet.Percent
		case n >= 14 && n <= 22, n >= 27 && n <= 36, n >= 45 && n <= 47, n >= 50 && n <= 58:
			return sheet.Date
		}
		return sheet.Number
	}
	switch shown := literal().ReplaceAllString(code, ""); {
	case strings.ContainsAny(shown, "yYdDhHmMsS"):
		return sheet.Date
	case strings.Contains(shown, "%"):
		return sheet.Percent
	}
	return sheet.Number
}

// literal is what in a format's code stands for itself, or for no part of a date:
// quoted text, a character behind a mark, a colour or a condition in brackets, and the
// word General.
var literal = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(?is)"[^"]*"?|[\\_*].?|\[[^]]*]?|general`) })
