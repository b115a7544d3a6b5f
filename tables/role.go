package tables

import (
	"errors"
	"slices"
)

// Role is what a table means, where the tool computes with it. A table without
// a role is compared, merged and rescaled like any other.
type Role string

// The roles that a document may give. [Roles] lists them.
const (
	InjectorFlow              Role = "injector.flow"               // mass or volume flow: scalar, or against a pressure
	InjectorOffset            Role = "injector.offset"             // dead time, against battery voltage and often pressure
	InjectorNonlinear         Role = "injector.nonlinear"          // correction below the linear range of SAE J1832
	InjectorMinPulse          Role = "injector.min_pulse"          // shortest pulse that the controller commands
	InjectorReferencePressure Role = "injector.reference_pressure" // differential pressure at which a scalar flow holds
	SparkAdvance              Role = "spark.advance"               // degrees before top dead centre
	SparkFallback             Role = "spark.fallback"              // blended towards when the controller learns knock
	AirMeter                  Role = "air.meter"                   // transfer function of the air flow meter
	AirVolumetricEfficiency   Role = "air.volumetric_efficiency"
	FuelStoichAFR             Role = "fuel.stoich_afr"
	Other                     Role = "other"
)

// Roles lists every role, in the order of the format's description.
var Roles = []Role{InjectorFlow, InjectorOffset, InjectorNonlinear, InjectorMinPulse, InjectorReferencePressure,
	SparkAdvance, SparkFallback, AirMeter, AirVolumetricEfficiency, FuelStoichAFR, Other}

// InjectorGroup lists the roles that describe one injector and belong
// together: a transfer takes all of them or says which is missing.
var InjectorGroup = []Role{InjectorFlow, InjectorOffset, InjectorNonlinear, InjectorMinPulse, InjectorReferencePressure}

// Shape is how a table of a role usually looks: in words, its unit, and its
// axes, of which a curve has one and a scalar none.
type Shape struct {
	Meaning string
	Unit    string
	Axes    []AxisParts // x, then y, without their breakpoints
}

// Shape says what a table of the role holds, in which units, and against what.
func (r Role) Shape() Shape {
	speed, charge := AxisParts{Quantity: EngineSpeed, Unit: "r/min"}, AxisParts{Quantity: AirCharge, Unit: "mg"}
	pressure, manifold := AxisParts{Quantity: DifferentialPressure, Unit: "kPa"}, AxisParts{Quantity: ManifoldPressure, Unit: "kPa"}
	voltage, meter := AxisParts{Quantity: BatteryVoltage, Unit: "V"}, AxisParts{Quantity: "meter voltage", Unit: "V"}
	pulse := AxisParts{Quantity: EffectivePulse, Unit: "ms"}
	shape, ok := map[Role]Shape{
		InjectorFlow:              {"mass or volume flow of one open injector, such as g/s; one value, or against a pressure", "g/s", []AxisParts{pressure}},
		InjectorOffset:            {"dead time in ms, the part of a pulse without fuel; against battery voltage, often pressure too", "ms", []AxisParts{voltage, pressure}},
		InjectorNonlinear:         {"correction of short pulses in ms, below the linear range of SAE J1832; against effective pulse", "ms", []AxisParts{pulse}},
		InjectorMinPulse:          {"shortest pulse in ms that the controller commands", "ms", nil},
		InjectorReferencePressure: {"differential pressure in kPa at which a flow of one value holds", "kPa", nil},
		SparkAdvance:              {"degrees before top dead centre; against engine speed and air charge or load", "deg", []AxisParts{speed, charge}},
		SparkFallback:             {"degrees of spark that a controller blends towards when it learns knock", "deg", []AxisParts{speed, charge}},
		AirMeter:                  {"air flow in g/s; against the meter's voltage or frequency", "g/s", []AxisParts{meter}},
		AirVolumetricEfficiency:   {"volumetric efficiency in % or as a share; against engine speed and manifold pressure", "%", []AxisParts{speed, manifold}},
		FuelStoichAFR:             {"air/fuel ratio of the fuel at lambda 1", "1", nil},
	}[r]
	if !ok {
		return Shape{Meaning: "anything else; a table without a role is shown, compared and merged as well"}
	}
	return shape
}

// Validate refuses a role that is not in [Roles]; "" is none and valid.
func (r Role) Validate() error {
	if r == "" || slices.Contains(Roles, r) {
		return nil
	}
	return errors.New(Unknown("role", string(r), RoleNames()))
}

// RoleNames are [Roles] as text.
func RoleNames() []string { return Each(Roles, func(r Role) string { return string(r) }) }

// The axis quantities that computation understands. Others are kept and
// compared as text.
const (
	DifferentialPressure = "differential pressure"
	ManifoldVacuum       = "manifold vacuum"
	ManifoldPressure     = "manifold pressure"
	BatteryVoltage       = "battery voltage"
	EffectivePulse       = "effective pulse"
	EngineSpeed          = "engine speed"
	AirCharge            = "air charge"
	AirFlow              = "air flow"
	Load                 = "load"
)

// Quantities lists them.
var Quantities = []string{DifferentialPressure, ManifoldVacuum, ManifoldPressure, BatteryVoltage, EffectivePulse,
	EngineSpeed, AirCharge, AirFlow, Load}
