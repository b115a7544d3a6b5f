package channel

import "testing"

// TestHeadersRecognised: SAE J1979 and J1930 terms and the trade's
// abbreviations (common practice, no source), in any case and order of words.
func TestHeadersRecognised(t *testing.T) {
	for want, headers := range map[string][]string{
		"time":         {"Time", "time (s)", "Timestamp", "Timestamp(ms)", "TIMESTAMP", "Seconds", "Elapsed time", "time_s", "Time stamp", "ENGINE_RUN_TINE ()", "Date time", "Log time", "Time [sec]"},
		"engine_speed": {"Engine speed", "RPM", "ENGINE_RPM ()", "Engine RPM[RPM]", "engine_speed_rpm", "EngineSpeed", "Speed, engine", "rpm (r/min)", "ENGINE SPEED (1/min)", "Engine RPM x1000"},
		"manifold_pressure": {"MAP", "Manifold pressure", "Intake manifold absolute pressure", "manifold absolute pressure (kPa)",
			"INTAKE_MANIFOLD_PRESSURE", "map_kpa", "ManifoldPressure", "Manifold absolute pressure (MAP)", "Pressure manifold intake [psi]", "MAP (kPa abs)"},
		"barometric_pressure": {"Baro", "Barometric pressure", "ABSOLUTE_BAROMETRIC_PRESSURE ()", "Barometer", "baro_kPa", "Barometric pressure (hPa)"},
		"air_flow": {"MAF", "Air flow", "Mass air flow", "air mass flow", "MAF air flow rate", "MAF[g/sec]", "Air Flow Rate from Mass Flow Sensor [g/s]",
			"airflow (g/s)", "MassAirFlow", "Mass airflow rate"},
		"air_charge":  {"Cylinder air", "Cylinder air mass", "Air mass per cylinder", "Air charge (mg)", "cylinder_airmass", "Air per cylinder (mg/stroke)"},
		"load":        {"Load", "Engine load", "Calculated load value", "Calculated engine load value", "Absolute Load[%]", "ENGINE_LOAD ()"},
		"throttle":    {"Throttle", "Throttle position", "TPS", "THROTTLE_POS", "Absolute Throttle Position [%]", "throttle_pct", "TPS (%)", "ThrottlePosition"},
		"coolant":     {"ECT", "Coolant temperature", "Engine Coolant Temperature [°C]", "COOLANT_TEMPERATURE ()", "Coolant temp (degF)", "ENGINE_COOLANT_TEMP", "Coolant [DegC]", "ect_c"},
		"intake_air":  {"IAT", "Intake air temperature", "INTAKE_AIR_TEMP ()", "AIR_INTAKE_TEMP", "Intake air temp ℉"},
		"battery":     {"Battery", "Battery voltage", "Vbat", "Control module voltage", "CONTROL_MODULE_VOLTAGE ()", "battery_v", "Battery (V)"},
		"pulse_width": {"PW", "Pulse width", "Injector pulse width", "Injection pulse width (ms)", "Injector PW", "INJ_PW", "injector_pw_ms", "PulseWidth", "Injector pulse width bank 1", "PW B1"},
		"short_trim_1": {"STFT", "STFT1", "STFT B1", "STFTB1", "Short term fuel trim", "Short Term Fuel Trim Bank 1[%]", "SHORT_TERM_FUEL_TRIM_BANK_1 ()",
			"Short term fuel % trim - Bank 1", "Short fuel trim 1", "stft_b1", "Bank 1 short term fuel trim", "SHRTFT1", "Fuel trim short term bank1"},
		"long_trim_1":  {"LTFT", "LTFT 1", "Long term fuel trim (bank 1)", "LONG_TERM_FUEL_TRIM_BANK_1 ()", "Long fuel trim", "LONGFT1", "LongTermFuelTrim_B1", "LTFT (%)"},
		"short_trim_2": {"STFT2", "STFT B2", "Short Term Fuel Trim Bank 2[%]", "stft bank 2", "SHORT TERM FUEL TRIM BANK 2"},
		"long_trim_2":  {"LTFT2", "LTFT_B2 (%)", "Long Term Fuel Trim Bank 2[%]", "Bank 2 LTFT"},
		"lambda_commanded": {"Commanded lambda", "Lambda cmd", "Lambda target", "Target AFR", "FUEL_AIR_COMMANDED_EQUIV_RATIO ()",
			"Fuel/Air commanded equivalence ratio", "Commanded equivalence ratio", "Lambda commanded", "Desired lambda", "commanded air/fuel ratio"},
		"lambda":        {"Lambda", "AFR", "Wideband AFR", "Air/fuel ratio", "Oxygen sensor 1 Wide Range Equivalence ratio", "Measured lambda", "Lambda 1", "Equivalence ratio"},
		"spark":         {"Spark", "Spark advance", "Ignition advance", "Ignition timing", "Timing advance", "TIMING_ADVANCE ()", "Ign timing (deg)", "SparkAdvance", "Ignition timing advance", "Timing advance (°)"},
		"knock_retard":  {"Knock retard", "KR", "KR (deg)", "Knock_Retard", "KnockRetard [°]"},
		"fuel_status":   {"Fuel status", "Fuel system status", "FUEL_SYSTEM_STATUS", "Fuel system 1 status", "FuelSystemStatus"},
		"rail_pressure": {"Rail pressure", "Fuel rail pressure", "Fuel Rail Pressure (psi)", "FRP", "Fuel pressure"},
		"purge":         {"Purge", "Commanded evaporative purge", "COMMANDED_EVAPORATIVE_PURGE ()", "Purge duty (%)", "Evap purge valve"},
		"spark_blend":   {"Spark blend", "spark_blend"},
		"speed":         {"Vehicle speed", "VEHICLE_SPEED ()", "Vehicle Speed Sensor [km/h]", "VSS", "Speed", "SPEED (mph)"},
		"gear":          {"Gear", "Current gear", "gear position"},
	} {
		for _, h := range headers {
			if got := ReadHeading(h).Channel; got != want {
				t.Errorf("%q is %q, want %s", h, got, want)
			}
		}
	}
}

// TestNearMisses: what sounds like a channel and is none.
func TestNearMisses(t *testing.T) {
	for _, h := range []string{
		"Oxygen sensor 2 Bank 1 Short term fuel trim", "Short term fuel trim bank 1 sensor 2", "STFT B1S2", "Short term secondary O2 trim",
		"Relative throttle position", "RELATIVE_THROTTLE_POSITION ()", "ABSOLUTE_THROTTLE_B ()", "Absolute throttle position B",
		"COMMANDED_THROTTLE_ACTUATOR ()", "Throttle motor current", "Calculated boost", "Boost pressure", "Exhaust pressure",
		"Manifold vacuum", "Manifold air temperature", "MAP voltage", "MAF voltage", "MAF frequency", "Power from MAF", "Air mass",
		"Commanded Fuel Rail Pressure ", "Absolute Evap system Vapor pressure", "Average speed", "GPS speed", "Wheel speed front left", "Turbine speed",
		"Ambient air temperature", "Oil temperature", "Transmission temperature", "CATALYST_TEMPERATURE_BANK1_SENSOR1 ()", "Fuel temperature",
		"HV Battery Voltage[V]", "HV Battery Current[A]", "HV Battery SOC[%]", "Oxygen sensor 1 Wide Range Voltage", "Oxygen sensor 2 Bank 1 Voltage", "Battery current",
		"TIME_RUN_WITH_MIL_ON ()", "TIME_SINCE_TROUBLE_CODES_CLEARED ()", "Lambda 2", "Lambda bank 2", "Oxygen sensor 2 wide range equivalence ratio",
		"Fuel System A Use Percentage Bank 1", "Fuel tank", "Fuel Rate[L/hr]", "Fuel type", "Knock sensor voltage", "Knock retard cylinder 3",
		"Injector duty cycle", "Pulse width bank 2", "TERM FUEL TRIM BANK 1", "Fuel trim", "Spark retard", "Relative accelerator pedal position",
		"Accelerator Pedal Position D [%]", "Engine oil pressure", "Engine torque", "Engine fuel rate", "Vehicle acceleration", "Gear ratio", "Lambda integrator",
		"Desired gear", "Idle speed", "Target engine speed", "Engine RPM limit", "Load cell", "Torque load", "Timing", "Intake cam angle", "",
	} {
		if got := ReadHeading(h).Channel; got != "" {
			t.Errorf("%q is taken for %s", h, got)
		}
	}
}

// TestOwnNames: a header that is a channel's own name is that channel.
func TestOwnNames(t *testing.T) {
	for _, c := range Known {
		if name, _, ok := Recognise(c.Name); !ok || name != c.Name {
			t.Errorf("%q is taken for %q", c.Name, name)
		}
	}
}
