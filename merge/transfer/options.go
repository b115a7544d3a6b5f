package transfer

import (
	"fmt"

	"calsplice/merge"
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

// Member is one table of the group, on the recipient's axes and in its unit, its
// values row after row.
type Member struct {
	Role      tables.Role `json:"role"`
	Table     string      `json:"table"`       // the recipient's
	Donor     string      `json:"donor_table"` // the donor's
	Unit      string      `json:"unit"`
	DonorUnit string      `json:"donor_unit"`
	X         *Along      `json:"x,omitempty"`
	Y         *Along      `json:"y,omitempty"`
	Pressure  []float64   `json:"differential_pressure_kpa,omitempty"` // at each value of the flow
	Exact     []float64   `json:"donor"`                               // the donor's values there, before rounding
	Old       []float64   `json:"before"`
	New       []float64   `json:"after"`
	Origin    []Origin    `json:"from"` // of each value

	Before *tables.Table `json:"-"`
	After  *tables.Table `json:"-"`
	Source *tables.Table `json:"-"` // the donor's table
}

// Along is an axis of a member.
type Along struct {
	Quantity string    `json:"quantity"`
	Unit     string    `json:"unit"`
	Points   []float64 `json:"points"`
}

func along(a *tables.Axis) *Along {
	if a == nil {
		return nil
	}
	return &Along{a.Quantity(), a.Unit(), a.Points()}
}

// Result is a transfer and its report.
type Result struct {
	Donor      string              `json:"donor"`
	Recipient  string              `json:"recipient"`
	Changed    *tables.Calibration `json:"-"`
	Changes    *merge.ChangeSet    `json:"-"`
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
