package tally

// Shares are the cells on which the operating points of a frame weigh. Each
// instant has as many places for them: one, or four where samples are spread.
// Places that it does not need hold −1, behind those that it does; where the axes
// are not known it needs none.
type Shares struct {
	Places int
	Cell   []int32
	Stay   []int32   // counts the separate stays in that cell
	Weight []float64 // nil where every share is a whole
}

// Known reports whether the axes are known at an instant.
func (s *Shares) Known(i int) bool { return s.Cell[i*s.Places] >= 0 }

// Of is the places of an instant's shares.
func (s *Shares) Of(i int) (from, to int) {
	from = i * s.Places
	for to = from; to < from+s.Places && s.Cell[to] >= 0; to++ {
	}
	return from, to
}

// Weighs is how much the share at a place weighs.
func (s *Shares) Weighs(place int) float64 {
	if s.Weight == nil {
		return 1
	}
	return s.Weight[place]
}
