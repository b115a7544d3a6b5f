package dialect

import "bytes"

// SplitFields cuts a line at its delimiter, quotes as RFC 4180 has them, and
// trims blanks around each field.
func SplitFields(line []byte, delim byte) [][]byte { return AppendFields(nil, line, delim) }

// AppendFields is splitFields into a slice that is used again.
func AppendFields(fields [][]byte, line []byte, delim byte) [][]byte {
	for {
		f, rest, more := NextField(line, delim)
		fields = append(fields, f)
		if !more || len(fields) > 10*maxColumns {
			return fields
		}
		line = rest
	}
}

// NextField takes the first field off a line.
func NextField(line []byte, delim byte) (field, rest []byte, more bool) {
	// A blank before a quote is not of RFC 4180, and stands in many logs.
	lead := 0
	for lead < len(line) && line[lead] == ' ' {
		lead++
	}
	if lead < len(line) && line[lead] == '"' {
		if f, rest, more, ok := quotedField(line[lead:], delim); ok {
			return f, rest, more
		}
	}
	i := bytes.IndexByte(line, delim)
	if i < 0 {
		return TrimBlanks(line), nil, false
	}
	return TrimBlanks(line[:i]), line[i+1:], true
}

// quotedField reads a field that begins with a quote. It is not ok where the
// quote does not close before a delimiter or the end.
func quotedField(line []byte, delim byte) (field, rest []byte, more, ok bool) {
	at, doubled := closingQuote(line, delim)
	if at < 0 {
		return nil, nil, false, false
	}
	field = line[1:at]
	if doubled {
		field = bytes.ReplaceAll(field, []byte(`""`), []byte(`"`))
	}
	for at++; at < len(line) && line[at] != delim; at++ {
	}
	if at == len(line) {
		return TrimBlanks(field), nil, false, true
	}
	return TrimBlanks(field), line[at+1:], true, true
}

// closingQuote finds the quote that closes the one at f[0]: the first that is
// not doubled, if at most blanks stand between it and the delimiter or line
// end behind it. Below zero it says why there is none.
func closingQuote(f []byte, delim byte) (at int, doubled bool) {
	for i := 1; ; i += 2 {
		j := bytes.IndexByte(f[i:], '"')
		if j < 0 {
			return unclosed, false
		}
		if i += j; i+1 >= len(f) || f[i+1] != '"' {
			k := i + 1
			for k < len(f) && (f[k] == ' ' || f[k] == '\t' && delim != '\t') {
				k++
			}
			if k < len(f) && f[k] != delim && f[k] != '\n' && f[k] != '\r' {
				return misquoted, false
			}
			return i, doubled
		}
		doubled = true
	}
}

// What closingQuote finds where no quote closes.
const (
	unclosed  = -1
	misquoted = -2
)

// QuoteReach is how far behind an opening quote its end is looked for.
const QuoteReach = 16 << 10

// RecordEnd is where the record at pos ends, and where the next begins: line
// ends inside quotes belong to it. open says that a quote does not close, so
// that the record is taken to end with its line; cut, that the quote may close
// behind the end of buf.
func RecordEnd(buf []byte, pos int, delim, eol byte) (end, next int, open, cut bool) {
	end, next = LineEnd(buf, pos, eol)
	for at := pos; ; at++ {
		for at < end && buf[at] == ' ' {
			at++
		}
		if at < end && buf[at] == '"' {
			reach := min(len(buf), at+QuoteReach)
			q, _ := closingQuote(buf[at:reach], delim)
			switch {
			case q == misquoted && bytes.IndexByte(buf[at+1:end], '"') >= 0: // a quote in a bare field
			case q < 0 || at+q+1 == reach && reach < len(buf):
				end, next = LineEnd(buf, pos, eol)
				return end, next, true, q == unclosed && reach == len(buf)
			default:
				if at += q; at >= end {
					end, next = LineEnd(buf, at, eol)
				}
			}
		}
		// Only a quote at the beginning of a field opens one, so the next delimiter is where the
		// next may be.
		i := bytes.IndexByte(buf[at:end], delim)
		if i < 0 {
			return end, next, open, false
		}
		at += i
	}
}

// LineEnd is where the line at pos ends, and where the next begins.
func LineEnd(buf []byte, pos int, eol byte) (end, next int) {
	if i := bytes.IndexByte(buf[pos:], eol); i >= 0 {
		return pos + i, pos + i + 1
	}
	return len(buf), len(buf)
}

// TrimEnd takes carriage returns off a line's end.
func TrimEnd(line []byte) []byte {
	for len(line) > 0 && line[len(line)-1] == '\r' {
		line = line[:len(line)-1]
	}
	return line
}

// TrimBlanks takes blanks and stray carriage returns off both ends.
func TrimBlanks(b []byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t') {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t' || b[len(b)-1] == '\r') {
		b = b[:len(b)-1]
	}
	return b
}
