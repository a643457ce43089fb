package channel_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/channel"
	"example.org/bookend/ingest/delimited/charset"
	"example.org/bookend/ingest/delimited/dialect"
	"example.org/bookend/ingest/delimited/scan"
	"example.org/bookend/ingest/delimited/timebase"
	"example.org/bookend/signal"
)

// tableOf reads a text as a table.
func tableOf(t *testing.T, text string, m *ingest.Mapping) *scan.Table {
	t.Helper()
	src, err := charset.Open(strings.NewReader(text), "x.csv")
	if err != nil {
		t.Fatal(err)
	}
	d, err := dialect.Detect(src.Head, src.Whole, "x.csv", m)
	if err != nil {
		t.Fatalf("%v (%s)", err, fault.HintOf(err))
	}
	table, err := scan.Read(context.Background(), d, src, "x.csv", 1)
	if err != nil {
		t.Fatalf("%v (%s)", err, fault.HintOf(err))
	}
	return table
}

// rows gives n lines made by line from the row's number.
func rows(n int, line func(i int) string) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(line(i))
	}
	return b.String()
}

// channels makes the channels of a text.
func channels(t *testing.T, text string, m *ingest.Mapping) ([]*signal.Channel, caveat.List) {
	t.Helper()
	table := tableOf(t, text, m)
	var list caveat.List
	base, err := timebase.Choose(table, ingest.Options{}, &list)
	if err != nil {
		t.Fatal(err)
	}
	list = nil
	out, err := channel.Make(table, base, 2, &list)
	if err != nil {
		t.Fatalf("%v (%s)", err, fault.HintOf(err))
	}
	return out, list
}

func byRole(list []*signal.Channel, role signal.Role) *signal.Channel {
	for _, c := range list {
		if c.Role == role {
			return c
		}
	}
	return nil
}

func TestRolesUnitsAndSigns(t *testing.T) {
	for _, c := range []struct {
		name  string // of the column
		value string
		role  signal.Role
		unit  string
		want  float64
	}{
		{"latitude_deg", "45", signal.Latitude, "rad", math.Pi / 4},
		{"Lat", "45", signal.Latitude, "rad", math.Pi / 4},
		{"lat", "450000000", signal.Latitude, "rad", math.Pi / 4},
		{"lng", "-90", signal.Longitude, "rad", -math.Pi / 2},
		{"Längengrad [°]", "90", signal.Longitude, "rad", math.Pi / 2},
		{"vx [km/h]", "36", signal.Speed, "m/s", 10},
		{"Geschwindigkeit (km/h)", "36", signal.Speed, "m/s", 10},
		{"GPS Speed [mph]", "100", signal.Speed, "m/s", 44.704},
		{"ay_g", "1", signal.AccelY, "m/s²", 9.80665},
		{"Querbeschleunigung [m/s²]", "1", signal.AccelY, "m/s²", 1},
		{"acc_right_mps2", "1", signal.AccelY, "m/s²", -1},
		{"yaw_rate_degps", "180", signal.YawRate, "rad/s", math.Pi},
		{"Gierrate [°/s]", "180", signal.YawRate, "rad/s", math.Pi},
		{"YawRate", "0.5", signal.YawRate, "rad/s", 0.5},
		{"YawRate", "12.5", "", "", 12.5}, // neither rad/s nor told
		{"SWA [deg]", "90", signal.SteeringAngle, "rad", math.Pi / 2},
		{"Lenkradwinkel [°]", "90", signal.SteeringAngle, "rad", math.Pi / 2},
		{"Raddrehzahl VL [1/min]", "60", signal.WheelSpeedFL, "rad/s", 2 * math.Pi},
		{"wheel_speed_rr_kmh", "36", signal.WheelSpeedRR, "m/s", 10},
		{"wheelSpeedFR_mps", "10", signal.WheelSpeedFR, "m/s", 10},
		{"brake_0to1", "1", signal.Brake, "1", 1},
		{"Brake [bar]", "10", "", "Pa", 1e6},
		{"throttle_pct", "50", signal.Throttle, "1", 0.5},
		{"airtemp_degc", "20", signal.AirTemperature, "°C", 20},
		{"water_depth_mm", "1", signal.WaterDepth, "m", 0.001},
		{"x_east_m", "5", signal.East, "m", 5},
		{"oil pressure [psi]", "0", "", "Pa", 0},
		{"temp_min", "5", "", "", 5},
	} {
		made, _ := channels(t, "time_s;"+c.name+"\n"+rows(20, func(i int) string { return fmt.Sprintf("%d;%s\n", i, c.value) }), nil)
		ch := made[0]
		if ch.Role != c.role || ch.Unit != c.unit || math.Abs(ch.Values[3]-c.want) > 1e-14*math.Abs(c.want) {
			t.Errorf("%s of %s: role %q, %v %s; want %q, %v %s", c.name, c.value, ch.Role, ch.Values[3], ch.Unit, c.role, c.want, c.unit)
		}
	}
}

func TestAMappingOverridesGuesses(t *testing.T) {
	m, err := ingest.ParseMapping("m.csv", []byte("column,role,unit,factor,offset\nS1,speed,km/h,2,\n#3,time,ms,,\nspeed_kmh,ignore,,,\nT,air_temperature,degF,,1\n"))
	if err != nil {
		t.Fatal(err)
	}
	made, _ := channels(t, "S1,speed_kmh,clockwork,T\n"+rows(20, func(i int) string { return fmt.Sprintf("18,99,%d,49\n", i*20) }), m)
	v, temp := byRole(made, signal.Speed), byRole(made, signal.AirTemperature)
	if len(made) != 2 || v == nil || temp == nil || math.Abs(v.Values[0]-10) > 1e-14 || math.Abs(temp.Values[0]-10) > 1e-13 || v.Base.T[1] != 0.02 {
		t.Errorf("speed %+v, temperature %+v", v, temp)
	}
	if len(v.History) != 1 || v.History[0].What != "scale" || v.History[0].Value != 2 || len(temp.History) != 1 || temp.History[0].What != "offset" {
		t.Errorf("histories %v and %v", v.History, temp.History)
	}
	_, err = dialect.Detect([]byte("time_s,v\n0,1\n1,2\n"), true, "x", m)
	if fault.CodeOf(err) != fault.NotFound || !strings.Contains(err.Error(), `"S1"`) {
		t.Errorf("a mapping of absent columns gives %v", err)
	}
}

// Each row is a table whose second column is worked out by hand.
func TestWhatIsAssumedIsToldOf(t *testing.T) {
	for _, c := range []struct {
		heads string
		row   func(i int) string
		at    int // channel that is asked about
		role  signal.Role
		unit  string
		want  float64 // in row 10
		codes string
	}{
		{"time_s;v", func(i int) string { return fmt.Sprint(i) }, 0, signal.Speed, "m/s", 10, "unit_assumed"},
		{"time_s;v [-]", func(i int) string { return fmt.Sprint(i) }, 0, signal.Speed, "m/s", 10, "unit_assumed"},
		{"time_s;yaw_rate", func(i int) string { return fmt.Sprint(i) }, 0, "", "", 10, "unit_missing"},
		{"time_s;load [furlong]", func(i int) string { return fmt.Sprint(i) }, 0, "", "", 10, "unit_unknown"},
		{"time_s;acc_right_mps2", func(i int) string { return fmt.Sprint(i) }, 0, signal.AccelY, "m/s²", -10, "sign_turned"},
		{"time_s;pos_x [m]", func(i int) string { return fmt.Sprint(i) }, 0, signal.East, "m", 10, "frame_assumed"},
		{"time_s;speed_kmh;vehicle_speed_kmh", func(i int) string { return "36;72" }, 1, signal.Speed, "m/s", 20, "role_twice"},
		{"time_s;vx_kmh;speed_kmh", func(i int) string { return "36;72" }, 0, "", "m/s", 10, ""},
		{"time_s;speed_mps;wheel_fl", func(i int) string { return fmt.Sprintf("%d;%d", i, i) }, 1, signal.WheelSpeedFL, "m/s", 10, "unit_assumed"},
		{"time_s;speed_mps;wheel_fl", func(i int) string { return fmt.Sprintf("%d;%d", i, 3*i) }, 1, signal.WheelSpeedFL, "rad/s", 30, "unit_assumed"},
		{"time_s;speed_mps;wheel_fl", func(i int) string { return fmt.Sprintf("%d;%g", i, 3.6*float64(i)) }, 1, "", "", 36, "unit_missing"},
		{"time_s;wheel_fl", func(i int) string { return fmt.Sprint(i) }, 0, "", "", 10, "unit_missing"},
		{"time_s;lat;lon;alt", func(i int) string { return "551234567;-31234567;300" }, 2, "", "", 300, "unit_assumed unit_assumed unit_missing"},
		{"time_s;v [m/s]", func(i int) string { return []string{"1", "", "1"}[i%3] }, 0, signal.Speed, "m/s", 0, "missing_values"},
		{"time_s;v [m/s];note", func(i int) string { return "1;lap" }, 0, signal.Speed, "m/s", 1, "text_column"},
		{"time_s;v [m/s];w", func(i int) string { return "1;" }, 0, signal.Speed, "m/s", 1, "empty_column"},
		{"time_s;load [km]", func(i int) string { return "1e307" }, 0, "", "m", 0, "beyond_range"},
		// A second time column is in seconds, whatever its unit.
		{"gps_time_s;time_ms;v_mps", func(i int) string { return fmt.Sprintf("%d;1", i*100) }, 0, "", "s", 1, ""},
		{"gps_time_s;elapsed [min];v_mps", func(i int) string { return fmt.Sprintf("%d;1", i) }, 0, "", "s", 600, ""},
		{"gps_time_s;clock;v_mps", func(i int) string { return fmt.Sprintf("00:01:%02d.5;1", i) }, 0, "", "s", 70.5, ""},
	} {
		made, list := channels(t, c.heads+"\n"+rows(20, func(i int) string { return fmt.Sprintf("%d;%s\n", i, c.row(i)) }), nil)
		ch := made[c.at]
		if ch.Role != c.role || ch.Unit != c.unit || math.Abs(ch.Values[10]-c.want) > 1e-12*math.Abs(c.want) {
			t.Errorf("%s: role %q, %v %s; want %q, %v %s", c.heads, ch.Role, ch.Values[10], ch.Unit, c.role, c.want, c.unit)
		}
		var codes []string
		for _, n := range list {
			codes = append(codes, n.Code)
		}
		if got := strings.Join(codes, " "); got != c.codes {
			t.Errorf("%s: caveats %q, want %q: %v", c.heads, got, c.codes, list)
		}
	}
}
