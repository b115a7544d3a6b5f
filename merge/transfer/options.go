package transfer

import (
	"encoding/json"
	"fmt"

	"calsplice/tables"
)

// Options say what the documents do not, and how the report looks at the result.
// A number that is 0 is not given.
type Options struct {
	DonorName, RecipientName string // as the person named the files

	Partial          bool    // move what both sides have
	DonorDensity     float64 // kg/L, of the donor's fuel; else its engine's fact
	RecipientDensity float64 // kg/L, of the recipient's fuel; else its engine's fact
	RatedDensity     float64 // kg/L, of the fluid that the donor's flow was measured with; else its fuel
	Barometer        float64 // kPa
	Pressure         float64 // kPa: the differential pressure of recipient tables that have no pressure axis
	Voltage          float64 // V: the battery voltage of recipient tables that have no voltage axis

	FuelMass  []float64 // mg per injection: operating points of the report
	Voltages  []float64 // V
	IdleFuel  float64   // mg per injection at idle
	Demand    Demand    // the highest demand
	DutyLimit float64   // 0 to 1
	BSFC      float64   // g of fuel for a kWh
}

// Demand is an operating point at which the injectors are asked for the most.
type Demand struct {
	AirMass  float64 // mg a cylinder and cycle
	Speed    float64 // r/min
	Manifold float64 // kPa absolute; the barometer where 0
	Battery  float64 // V; 14 where 0
	Lambda   float64 // 0.85 where 0
	From     string  // where it was found
}

// Origin says where a transferred value comes from.
type Origin uint8

const (
	AtBreakpoint Origin = iota // the donor's own value
	Between                    // interpolated between the donor's breakpoints
	Inferred                   // by the square-root law
	Held                       // the edge value, past the donor's axis
)

// String is where a value comes from, in words.
func (o Origin) String() string {
	return [...]string{"donor's breakpoint", "between breakpoints", "square-root law", "held"}[o]
}

// MarshalText writes the origin as its words.
func (o Origin) MarshalText() ([]byte, error) { return []byte(o.String()), nil }

// Assumption is one thing that the result rests on.
type Assumption struct {
	Name  string `json:"name"`
	Value string `json:"value"`
	From  string `json:"from"` // "donor's document", "assumed: standard atmosphere" …
}

// String is the assumption in one line.
func (a Assumption) String() string { return fmt.Sprintf("%s: %s (%s)", a.Name, a.Value, a.From) }

// Member is one table of the group, on the recipient's axes and in its unit.
type Member struct {
	Role      tables.Role
	Table     string // the recipient's
	Donor     string // the donor's
	Unit      string
	DonorUnit string
	Before    *tables.Table
	After     *tables.Table
	Source    *tables.Table // the donor's table
	Exact     []float64     // the donor's values there, before rounding
	Origin    []Origin      // of each value
	Pressure  []float64     // kPa, differential, at each value of the flow; nil for other members
}

// MarshalJSON writes the member with its axes and its values, row after row.
func (m Member) MarshalJSON() ([]byte, error) {
	type axis struct {
		Quantity string    `json:"quantity"`
		Unit     string    `json:"unit"`
		Points   []float64 `json:"points"`
	}
	along := func(a *tables.Axis) *axis {
		if a == nil {
			return nil
		}
		return &axis{a.Quantity(), a.Unit(), a.Points()}
	}
	return json.Marshal(struct {
		Role      tables.Role `json:"role"`
		Table     string      `json:"table"`
		Donor     string      `json:"donor_table"`
		Unit      string      `json:"unit"`
		DonorUnit string      `json:"donor_unit"`
		X         *axis       `json:"x,omitempty"`
		Y         *axis       `json:"y,omitempty"`
		Pressure  []float64   `json:"differential_pressure_kpa,omitempty"`
		Exact     []float64   `json:"donor"`
		Before    []float64   `json:"before"`
		After     []float64   `json:"after"`
		Origin    []Origin    `json:"from"`
	}{m.Role, m.Table, m.Donor, m.Unit, m.DonorUnit, along(m.Before.X()), along(m.Before.Y()), m.Pressure, m.Exact, m.Before.Values(), m.After.Values(), m.Origin})
}

// Result is a transfer and its report.
type Result struct {
	Donor      string              `json:"donor"`
	Recipient  string              `json:"recipient"`
	Changed    *tables.Calibration `json:"-"`
	Changes    *ChangeSet          `json:"-"`
	Members    []Member            `json:"members"`
	Left       []string            `json:"left"` // members that only one side has, with --partial
	Assumed    []Assumption        `json:"assumptions"`
	Cautions   tables.Notes        `json:"cautions"` // what the values rest on, then the transfer's own
	Points     []Point             `json:"points"`
	Idle       *Idle               `json:"idle"`
	Duty       *Duty               `json:"duty"`
	Power      *Power              `json:"power"`
	Review     []Review            `json:"review"`
	RoundTrips []RoundTrip         `json:"round_trip"`
	NotShown   []string            `json:"not_shown"` // parts of the report that lack a fact, and which

	// Whoever prints the assumptions apart need not print them again as cautions.
	rests int // cautions that are assumptions
}

// Own are the cautions that are no assumptions.
func (r *Result) Own() []string { return r.Cautions[r.rests:] }
