// Package unit reads the units of the trade and of UCUM and converts between
// them exactly.
//
// A [Unit] is a spelling that the package knows, with its dimension and its
// ratio to the dimension's base unit. Ratios are exact fractions (NIST SP 811,
// appendix B.8, and the definitions behind it), applied as one multiplication
// and one division, so that a conversion is within a unit in the last place of
// the true value. Temperatures are affine.
//
// What the package deliberately keeps apart: gauge, absolute and plain
// pressure (a barometer stands between them, not a factor); mass and volume
// flow (a fuel density does: see [Flow]); an air/fuel ratio and lambda (a
// stoichiometric ratio does).
//
// A spelling that it does not know is text: [Parse] says so, and arithmetic
// with it is for the caller to refuse.
package unit

import (
	"fmt"
	"math/big"
	"slices"
	"strings"
)

// Dimension is what a unit measures.
type Dimension string

// The dimensions, each with its base unit.
const (
	Pressure         Dimension = "pressure"          // kPa
	GaugePressure    Dimension = "gauge pressure"    // kPa above the barometer
	AbsolutePressure Dimension = "absolute pressure" // kPa above vacuum
	MassFlow         Dimension = "mass flow"         // g/s
	VolumeFlow       Dimension = "volume flow"       // mL/min
	Mass             Dimension = "mass"              // mg
	Volume           Dimension = "volume"            // L
	Density          Dimension = "density"           // kg/L
	Time             Dimension = "time"              // ms
	Voltage          Dimension = "voltage"           // V
	Current          Dimension = "current"           // mA
	Rotation         Dimension = "rotational speed"  // r/min
	Speed            Dimension = "speed"             // km/h
	Distance         Dimension = "distance"          // km
	Angle            Dimension = "angle"             // deg
	Temperature      Dimension = "temperature"       // degC
	Ratio            Dimension = "ratio"             // 1
	Lambda           Dimension = "lambda"            // lambda
	AirFuelRatio     Dimension = "air/fuel ratio"    // kg of air to kg of fuel
	Power            Dimension = "power"             // kW
	Torque           Dimension = "torque"            // N m
	Frequency        Dimension = "frequency"         // Hz
)

// Dimensions lists the dimensions in the order of the units' list.
func Dimensions() []Dimension {
	var list []Dimension
	for _, d := range definitions {
		if !slices.Contains(list, d.dim) {
			list = append(list, d.dim)
		}
	}
	return list
}

// Names lists the units of a dimension by the names that are printed.
func Names(d Dimension) []string {
	var list []string
	for _, def := range definitions {
		if def.dim == d {
			list = append(list, def.name)
		}
	}
	return list
}

// Unit is a unit that the package knows. The zero Unit is none.
type Unit struct {
	name  string // the spelling that calsplice prints
	dim   Dimension
	ratio string // base units in one of this unit, as product reads it
	zero  string // this unit's reading at the base unit's zero
}

// Name is the spelling that calsplice prints for the unit.
func (u Unit) Name() string { return u.name }

// Dimension is what the unit measures; "" for the zero Unit.
func (u Unit) Dimension() Dimension { return u.dim }

// Parse reads a unit in a spelling of the trade or of UCUM, such as "lb/hr",
// "[lb_av]/h", "cc/min" or "degF". It reports false for text that it does not
// know.
func Parse(s string) (Unit, bool) {
	s = tidy(s)
	exact, lower := spellings()
	if u, ok := exact[s]; ok {
		return u, true
	}
	u, ok := lower[strings.ToLower(s)]
	if ok && milliOrMega(s, u.name) {
		return Unit{}, false
	}
	return u, ok
}

// milliOrMega reports whether a spelling in careful mixed case has the other of
// the prefixes m and M, a factor of a thousand million apart.
func milliOrMega(s, name string) bool {
	careful := s != strings.ToLower(s) && s != strings.ToUpper(s)
	return careful && strings.EqualFold(s[:1], "m") && strings.EqualFold(name[:1], "m") && s[0] != name[0]
}

// tidy takes out what does not tell units apart: blanks around and doubled,
// and the one-character forms of degree signs.
func tidy(s string) string {
	return strings.Join(strings.Fields(signs.Replace(s)), " ")
}

var signs = strings.NewReplacer("℃", "°C", "℉", "°F", "º", "°", "µ", "u", "μ", "u", "²", "2", "³", "3",
	"\u00a0", " ", "\u202f", " ", "·", " ", "⋅", " ")

// Same reports whether two spellings mean the same unit, or are the same text.
func Same(a, b string) bool {
	if a == b {
		return true
	}
	ua, oka := Parse(a)
	ub, okb := Parse(b)
	return oka && okb && ua.dim == ub.dim && ua.zero == ub.zero &&
		(ua.ratio == ub.ratio || product(ua.ratio).Cmp(product(ub.ratio)) == 0)
}

// Conversion turns a number in one unit into the number in another:
// (v − From)·Mul/Div + To.
type Conversion struct {
	From, Mul, Div, To float64
}

// Apply converts one number.
func (c Conversion) Apply(v float64) float64 {
	if c.From == 0 && c.To == 0 {
		return v * c.Mul / c.Div
	}
	return float64((v-c.From)*c.Mul/c.Div) + c.To
}

// ApplyAll converts every value of a list.
func (c Conversion) ApplyAll(list []float64) []float64 {
	out := make([]float64, len(list))
	for i, v := range list {
		out[i] = c.Apply(v)
	}
	return out
}

// Step is the conversion of a difference, which has no zero.
func (c Conversion) Step() Conversion { return Conversion{Mul: c.Mul, Div: c.Div} }

// Identity reports whether the conversion leaves every number as it is.
func (c Conversion) Identity() bool { return c.Mul == c.Div && c.From == c.To }

// Between is the conversion from one unit to another of the same dimension.
func Between(from, to Unit) (Conversion, error) {
	if from.dim == "" || to.dim == "" || from.dim != to.dim {
		return Conversion{}, &MismatchError{from, to}
	}
	return conversion(from, to, between(from, to)), nil
}

// Flow is [Between] that also converts mass to volume flow and back, through a
// fuel density in kg/L. It is an error where a density is needed and is not
// above zero.
func Flow(from, to Unit, density float64) (Conversion, error) {
	if from.dim == to.dim || !from.IsFlow() || !to.IsFlow() {
		return Between(from, to)
	}
	if !(density > 0) {
		return Conversion{}, fmt.Errorf("%s to %s needs a fuel density", from.name, to.name)
	}
	rho := new(big.Rat)
	if rho.SetFloat64(density) == nil {
		return Conversion{}, fmt.Errorf("fuel density %v is not finite", density)
	}
	// 1 mL/min of density ρ kg/L is ρ/60 g/s.
	gramsPerML := rho.Quo(rho, big.NewRat(60, 1))
	ratio := between(from, to)
	if from.dim == VolumeFlow {
		ratio.Mul(ratio, gramsPerML)
	} else {
		ratio.Quo(ratio, gramsPerML)
	}
	return conversion(from, to, ratio), nil
}

// between is one of from in to, where both have one zero.
func between(from, to Unit) *big.Rat {
	return new(big.Rat).Quo(product(from.ratio), product(to.ratio))
}

// IsFlow reports whether a fuel density stands between the unit and others.
func (u Unit) IsFlow() bool { return u.dim == MassFlow || u.dim == VolumeFlow }

func conversion(from, to Unit, ratio *big.Rat) Conversion {
	num, _ := new(big.Float).SetInt(ratio.Num()).Float64()
	den, _ := new(big.Float).SetInt(ratio.Denom()).Float64()
	c := Conversion{Mul: num, Div: den}
	if from.dim == Temperature {
		c.From, _ = product(from.zero).Float64()
		c.To, _ = product(to.zero).Float64()
	}
	return c
}

// Convert converts one number between two spelled units of one dimension.
func Convert(v float64, from, to string) (float64, error) {
	c, err := Find(from, to)
	if err != nil {
		return 0, err
	}
	return c.Apply(v), nil
}

// Find is [Between] for spelled units. A spelling that is not known converts
// only to itself.
func Find(from, to string) (Conversion, error) {
	if from == to {
		return Conversion{Mul: 1, Div: 1}, nil
	}
	a, ok := Parse(from)
	if !ok {
		return Conversion{}, fmt.Errorf("unit %q is not known, so nothing can be computed with it", from)
	}
	b, ok := Parse(to)
	if !ok {
		return Conversion{}, fmt.Errorf("unit %q is not known, so nothing can be computed with it", to)
	}
	return Between(a, b)
}

// MismatchError says that two units do not measure the same.
type MismatchError struct{ From, To Unit }

// Error names both units and what each of them measures.
func (e *MismatchError) Error() string {
	return fmt.Sprintf("%s (%s) does not convert to %s (%s)", e.From.name, e.From.dim, e.To.name, e.To.dim)
}

// fits lists the dimensions that an axis quantity may have. Pressures may be
// plain; a vacuum or a differential is never absolute.
var fits = map[string][]Dimension{
	"differential pressure": {Pressure},
	"manifold vacuum":       {Pressure, GaugePressure},
	"manifold pressure":     {Pressure, AbsolutePressure},
	"battery voltage":       {Voltage},
	"effective pulse":       {Time},
	"engine speed":          {Rotation},
	"air charge":            {Mass},
	"air flow":              {MassFlow},
	"load":                  {Ratio},
}

// Fits reports whether a unit can measure an axis quantity that computation
// understands. Quantities and units that are not known fit anything.
func Fits(quantity, unit string) bool {
	dims, ok := fits[quantity]
	u, known := Parse(unit)
	return !ok || !known || slices.Contains(dims, u.dim)
}

// Atmosphere is the standard atmosphere at sea level in kPa (ISO 2533), which
// stands for a barometer that nobody gave.
const Atmosphere = 101.325
