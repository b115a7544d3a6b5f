package book

import (
	"encoding/xml"
	"strconv"
	"strings"

	"calsplice/tables/sheet"
)

// readStyles finds out which styles show a number as a date or a percentage.
func (b *Book) readStyles() error {
	formats := map[string]string{}
	inCells := false
	_, err := b.each(b.styles, func(e xml.StartElement) error {
		switch e.Name.Local {
		case "numFmt":
			formats[attr(e, "numFmtId")] = attr(e, "formatCode")
		case "cellXfs":
			inCells = true
		case "cellStyles", "dxfs":
			inCells = false
		case "xf":
			if inCells {
				id := attr(e, "numFmtId")
				b.looks = append(b.looks, look(id, formats[id]))
			}
		}
		return nil
	})
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
	kind := sheet.Number
	for i := 0; i < len(code); i++ {
		switch c := code[i]; c {
		case '"':
			for i++; i < len(code) && code[i] != '"'; i++ {
			}
		case '\\', '_', '*':
			i++
		case '[':
			for i++; i < len(code) && code[i] != ']'; i++ {
			}
		case '%':
			kind = sheet.Percent
		case 'y', 'Y', 'd', 'D', 'h', 'H', 'm', 'M', 's', 'S':
			return sheet.Date
		case 'G', 'g': // General
			if strings.HasPrefix(strings.ToLower(code[i:]), "general") {
				i += len("general") - 1
			}
		}
	}
	return kind
}
