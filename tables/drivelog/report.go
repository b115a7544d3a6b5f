package drivelog

import (
	"io"
	"math"

	"calsplice/tables/strictjson"
)

// WriteJSON writes a survey for machines.
func (s *Survey) WriteJSON(w io.Writer) error {
	type channel struct {
		Name    string   `json:"name"`
		Header  string   `json:"header"`
		Unit    string   `json:"unit"`
		Assumed bool     `json:"assumed"`
		Count   int      `json:"count"`
		Missing int      `json:"missing"`
		Min     *float64 `json:"min"`
		Max     *float64 `json:"max"`
		Mean    *float64 `json:"mean"`
	}
	type fault struct {
		Kind  string `json:"kind"`
		Count int    `json:"count"`
		Lines []int  `json:"lines"`
		Text  string `json:"text"`
	}
	doc := struct {
		Rows     int       `json:"rows"`
		Channels []channel `json:"channels"`
		Faults   []fault   `json:"faults"`
	}{s.Rows, []channel{}, []fault{}}
	orNull := func(v float64) *float64 {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil
		}
		return &v
	}
	for _, c := range s.Channels {
		doc.Channels = append(doc.Channels, channel{c.Name, c.Header, c.Unit, c.Assumed, c.Count, c.Missing,
			orNull(c.Min), orNull(c.Max), orNull(c.Mean)})
	}
	for _, f := range s.Faults {
		if f.Lines == nil {
			f.Lines = []int{}
		}
		doc.Faults = append(doc.Faults, fault(f))
	}
	return strictjson.Print(w, doc)
}
