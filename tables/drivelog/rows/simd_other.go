//go:build !amd64

package rows

func putPlaces(e *ends, text *window, before uint, delim, eol byte) {
	e.putWords(text, before, delim, eol)
}

func (s *shape) short(text *window, c *cells, out []float64) (rest uint64) {
	return s.plain(text, c, out)
}

func (s *shape) long(text *window, c *cells, out []float64) (rest uint64) {
	return s.plainLong(text, c, out)
}
