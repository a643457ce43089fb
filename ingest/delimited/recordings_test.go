package delimited_test

import (
	"context"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/ingest/ingesttest"
	"example.org/bookend/signal"
)

// data gives the path of a real recording; the test is skipped where it is not
// there. The recordings are openly licensed and lie beside the repository.
func data(t *testing.T, elements ...string) string {
	t.Helper()
	root := os.Getenv("BOOKEND_DATA")
	if root == "" {
		root = filepath.Join("..", "..", "..", "shared", "data")
	}
	path := filepath.Join(append([]string{root}, elements...)...)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("the recording %s is not here: set BOOKEND_DATA to the folder of real recordings", filepath.Join(elements...))
	}
	return path
}

func open(t *testing.T, path string, opt ingest.Options) *signal.Recording {
	t.Helper()
	rec, err := ingest.Open(context.Background(), path, []ingest.Reader{delimited.New()}, opt)
	if err != nil {
		t.Fatal(err)
	}
	if err := ingesttest.Check(rec); err != nil {
		t.Fatal(err)
	}
	return rec
}

// reference reads columns with the standard library's encoding/csv and strconv.
func reference(t *testing.T, path string, columns ...string) [][]float64 {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := make([][]float64, len(columns))
	for k, name := range columns {
		for i, h := range all[0] {
			if h != name {
				continue
			}
			for _, row := range all[1:] {
				v, err := strconv.ParseFloat(row[i], 64)
				if err != nil {
					t.Fatal(err)
				}
				out[k] = append(out[k], v)
			}
		}
		if out[k] == nil {
			t.Fatalf("no column %s", name)
		}
	}
	return out
}

// Rows as the data set's description states them; every value of ten columns
// and every stamp as encoding/csv and strconv read them.
func TestLapsOfARealVehicle(t *testing.T) {
	for _, c := range []struct {
		file  string
		rows  int
		start string // the receiver's week and time of week, UTC
	}{
		{"psu_loop_1.csv", 15360, "2020-02-24T14:49:34.65Z"},
		{"psu_loop_3.csv", 13901, "2020-02-24T15:25:04.6Z"},
		{"psu_loop_4.csv", 10001, "2020-02-24T15:37:29.6Z"},
	} {
		t.Run(c.file, func(t *testing.T) {
			path := data(t, "laps", c.file)
			rec := open(t, path, ingest.Options{})
			ref := reference(t, path, "gps_tow_s", "latitude_deg", "longitude_deg", "height_m", "v_north_mps", "v_east_mps", "v_up_mps", "nav_mode", "num_sats", "x_east_m", "y_north_m")
			base := rec.Channels[0].Base.T
			if len(base) != c.rows || len(ref[0]) != c.rows {
				t.Fatalf("%d rows, encoding/csv has %d, the description %d", len(base), len(ref[0]), c.rows)
			}
			for i, tow := range ref[0] {
				if math.Abs(base[i]-(tow-ref[0][0])) > 1e-9 {
					t.Fatalf("row %d is at %v s, time of week %v after %v", i, base[i], tow, ref[0][0])
				}
			}
			if got := rec.Anchor.Time().Format(time.RFC3339Nano); got != c.start || rec.Anchor.Clock != "gnss" {
				t.Errorf("it begins at %s by %s, want %s", got, rec.Anchor.Clock, c.start)
			}
			// The computer's clock of the same row is within half a second.
			ros, err := rec.ByName("ros_time_s")
			if err != nil {
				t.Fatal(err)
			}
			if d := float64(rec.Anchor.UnixNS)/1e9 - ros.Values[0]; math.Abs(d) > 0.5 {
				t.Errorf("the computer's clock differs by %.3f s", d)
			}
			for k, role := range []signal.Role{signal.Latitude, signal.Longitude, signal.Height, signal.VelocityNorth, signal.VelocityEast, signal.VelocityUp, signal.FixQuality, signal.Satellites, signal.East, signal.North} {
				ch := rec.ByRole(role)
				if ch == nil || !ch.AllValid() {
					t.Fatalf("%s is missing or not valid throughout", role)
				}
				for i, v := range ref[k+1] {
					if k < 2 {
						v = v * math.Pi / 180
					}
					if math.Abs(ch.Values[i]-v) > 1e-15*math.Abs(v) && ch.Values[i] != v {
						t.Fatalf("%s, row %d: %v, want %v", role, i, ch.Values[i], v)
					}
				}
			}
			if !rec.Caveats.Has("time_column") {
				t.Error("nothing is said about the second time column")
			}
			if c.file == "psu_loop_1.csv" {
				// The description: 79 rows in mode 5 at the start.
				fix := rec.ByRole(signal.FixQuality).Values
				n := 0
				for n < len(fix) && fix[n] == 5 {
					n++
				}
				if n != 79 {
					t.Errorf("it begins with %d rows in mode 5, the description says 79", n)
				}
			}
		})
	}
}

// The same recording written again, with semicolons, decimal commas, a byte
// order mark, German names, a row of units and speed in km/h.
func TestARecordingWrittenAgainIsTheSame(t *testing.T) {
	plain := open(t, data(t, "laps", "psu_loop_4.csv"), ingest.Options{})
	again := open(t, data(t, "formats", "derived_loop4_semicolon_decimalcomma_bom.csv"), ingest.Options{})
	tow := reference(t, data(t, "laps", "psu_loop_4.csv"), "gps_tow_s")[0]
	for _, role := range []signal.Role{signal.Latitude, signal.Longitude, signal.FixQuality} {
		a, b := plain.ByRole(role), again.ByRole(role)
		if a == nil || b == nil || len(a.Values) != len(b.Values) {
			t.Fatalf("%s is missing or of another length", role)
		}
		for i := range a.Values {
			if a.Values[i] != b.Values[i] {
				t.Fatalf("%s, row %d: %v and %v", role, i, a.Values[i], b.Values[i])
			}
		}
	}
	for i, v := range again.Channels[0].Base.T {
		if v != tow[i] {
			t.Fatalf("row %d is at %v s, want %v", i, v, tow[i])
		}
		if math.Abs(v-again.Channels[0].Base.T[0]-plain.Channels[0].Base.T[i]) > 1e-9 {
			t.Fatalf("row %d is %v s after the first, want %v", i, v-again.Channels[0].Base.T[0], plain.Channels[0].Base.T[i])
		}
	}
	// Speed was made from the velocities and rounded to 0.001 km/h.
	v, n, e := again.ByRole(signal.Speed), plain.ByRole(signal.VelocityNorth), plain.ByRole(signal.VelocityEast)
	for i := range v.Values {
		if want := math.Hypot(n.Values[i], e.Values[i]); math.Abs(v.Values[i]-want) > 0.00051/3.6 {
			t.Fatalf("row %d: %v m/s, the velocities give %v", i, v.Values[i], want)
		}
	}
}

// The description: 20 duplicate stamps and 570 steps over 1.5 ms in one file,
// 110 gaps up to 70 ms in the other.
func TestAStopWithRepeatedStamps(t *testing.T) {
	rec := open(t, data(t, "braking", "roadview_abs_stop_1khz.csv"), ingest.Options{})
	if n := len(rec.Channels[0].Base.T); n != 9001-20 {
		t.Errorf("%d rows, want 9001 without 20", n)
	}
	wants(t, rec, "duplicate_stamp", "20 of 9001 rows", 7433)
	wants(t, rec, "gap", "570 steps", 0)
	speed := rec.ByRole(signal.Speed)
	if speed == nil || speed.Name != "velocity_x_mps" || speed.Values[len(speed.Values)-1] != -0.010 {
		t.Errorf("speed is %+v", speed)
	}
	if b := rec.ByRole(signal.Brake); b == nil || b.Values[0] != 1 {
		t.Error("no brake signal, or it is not 1 while standing at the start")
	}
	// Rolling freely at 22 m/s, the wheels turn at 63 to 64 rad/s: no unit is stated.
	if w := rec.ByRole(signal.WheelSpeedFL); w == nil || w.Unit != "rad/s" {
		t.Errorf("front-left wheel speed is %+v", w)
	}
	slow := open(t, data(t, "braking", "roadview_abs_stop_100hz.csv"), ingest.Options{})
	wants(t, slow, "gap", "110 steps", 0)
	wants(t, slow, "gap", "0.07001 s", 0)
	if y := slow.ByRole(signal.YawRate); y == nil || y.Unit != "rad/s" {
		t.Error("no yaw rate")
	}
}

// The description: positions in 1e-7 degrees, a clock that five times has no
// decimals; the other file's times were damaged by a spreadsheet and its rows
// end in empty cells.
func TestMessyFiles(t *testing.T) {
	rec := open(t, data(t, "formats", "psu_Test_Track1_messy.csv"), ingest.Options{})
	lat, lon := rec.ByRole(signal.Latitude), rec.ByRole(signal.Longitude)
	if lat == nil || math.Abs(lat.Values[0]*180/math.Pi-40.8631116) > 1e-12 || math.Abs(lon.Values[0]*180/math.Pi+77.8350440) > 1e-12 {
		t.Errorf("it begins at %v, %v rad", lat.Values[0], lon.Values[0])
	}
	if got := rec.Channels[0].Base.T[0]; got != 232.55 {
		t.Errorf("the first stamp, 0:03:52.550000, is %v s", got)
	}
	wants(t, rec, "unit_assumed", "1e-7 degrees", 0)
	wants(t, rec, "duplicate_stamp", "5 of 755 rows", 0)

	rec = open(t, data(t, "formats", "psu_Pittsburgh_2_messy.csv"), ingest.Options{})
	base := rec.Channels[0].Base.T
	if base[0] != 6492 || base[len(base)-1] != 8568.7 { // 1:48:12 and 22:48.7 in the hour after it
		t.Errorf("time runs from %v to %v", base[0], base[len(base)-1])
	}
	wants(t, rec, "clock_without_hours", "5899 stamps", 0)
	if len(rec.Channels) != 3 {
		t.Errorf("%d channels, want lat, long, elev and none of the empty columns", len(rec.Channels))
	}
}

// Rows, first and last value of each file of one drive, as they stand in it.
func TestSensorsOfOneDriveStayOnTheirClock(t *testing.T) {
	const dir = "comma2k19_segment40"
	for _, c := range []struct {
		file        string
		rows        int
		name        string
		role        signal.Role
		first, last float64
		from, to    float64
	}{
		{"can_speed.csv", 4974, "speed_mps", signal.Speed, 7.974306, 11.161111, 46408.589503, 46468.577617},
		{"can_steering_angle.csv", 4974, "steering_wheel_angle_deg", signal.SteeringAngle, -0.4 * math.Pi / 180, -1.1 * math.Pi / 180, 46408.584959, 46468.572209},
		{"can_wheel_speed.csv", 4974, "ws1_mps", "", 8.016667, 11.122222, 46408.589503, 46468.577617},
		{"fused_pose_ecef_20hz.csv", 1200, "x_ecef_m", "", -2712087.5168, -2711722.6733, 46408.547498, 46468.496658},
		{"imu_accelerometer.csv", 6256, "acc_right_mps2", signal.AccelY, 0.129211, -0.129211, 46408.580034, 46468.571921}, // positive to the left
		{"imu_gyro.csv", 6256, "gyro_down_radps", signal.YawRate, -0.0037231, -0.0073853, 46408.580034, 46468.571921},     // positive upwards
		{"gnss_ublox.csv", 579, "bearing_deg", signal.CourseAngle, 2.136 * math.Pi / 180, 2.697 * math.Pi / 180, 0, 59.7},
	} {
		rec := open(t, data(t, "vehicle", dir, c.file), ingest.Options{})
		ch, err := rec.ByName(c.name)
		if err != nil {
			t.Fatal(err)
		}
		n := len(ch.Values)
		if n != c.rows || ch.Role != c.role || math.Abs(ch.Values[0]-c.first) > 1e-15 || math.Abs(ch.Values[n-1]-c.last) > 1e-15 {
			t.Errorf("%s: %d rows, %s from %v to %v as %q; want %d, %v, %v, %q", c.file, n, c.name, ch.Values[0], ch.Values[n-1], ch.Role, c.rows, c.first, c.last, c.role)
		}
		if b := ch.Base.T; b[0] != c.from || b[n-1] != c.to {
			t.Errorf("%s: time runs from %v to %v, want %v to %v", c.file, b[0], b[n-1], c.from, c.to)
		}
	}
	// 1533226488299 ms after 1970.
	rec := open(t, data(t, "vehicle", dir, "gnss_ublox.csv"), ingest.Options{})
	if got := rec.Anchor.Time().Format(time.RFC3339Nano); got != "2018-08-02T16:14:48.299Z" || rec.Anchor.Clock != "gnss" {
		t.Errorf("it begins at %s", got)
	}
}

func TestOtherRealTables(t *testing.T) {
	rec := open(t, data(t, "laps", "psu_testtrack_oval.csv"), ingest.Options{})
	if b := rec.Channels[0].Base.T; len(b) != 3399 || b[0] != 521088.65 {
		t.Errorf("%d rows from %v", len(b), b[0])
	}
	rec = open(t, data(t, "laps", "running_track_400m_deviceA.csv"), ingest.Options{})
	if got := rec.Anchor.Time().Format(time.RFC3339); len(rec.Channels[0].Values) != 1901 || got != "2021-06-04T10:48:39Z" { // 1622803719 s after 1970
		t.Errorf("%d rows from %s", len(rec.Channels[0].Values), got)
	}
	wants(t, rec, "missing_values", "10 of 1901", 2)
	rec = open(t, data(t, "weather", "nrel_midc_20181014_1min.txt"), ingest.Options{Zone: time.FixedZone("MST", -7*3600)})
	if got := rec.Anchor.Time().Format(time.RFC3339); len(rec.Channels[0].Values) != 1440 || got != "2018-10-14T07:00:00Z" {
		t.Errorf("%d rows from %s", len(rec.Channels[0].Values), got)
	}
	for _, other := range [][]string{{"drift", "agridat_cochran.bib.txt"}, {"braking", "cars_1930_speed_stopping_distance.csv"}} {
		_, err := ingest.Open(context.Background(), data(t, other...), []ingest.Reader{delimited.New()}, ingest.Options{})
		if err == nil {
			t.Errorf("%v has no time and is read", other)
		}
	}
	for _, other := range []string{"gpsd_haicom-305N.log", "gpsd_nmea-rtk.log", "gpsd_iTrek.log", "gpsd_ublox-zed-f9p-nmea.log", "run_03_garmin.gpx", "gomdf_sample1.mf4", "psu_TestTrack.mat", "track_run_20210604_deviceA.fit", "intervals_20200103.tcx"} {
		b, err := os.ReadFile(data(t, "formats", other))
		if err != nil {
			t.Fatal(err)
		}
		if c := delimited.New().Sniff(b[:min(len(b), ingest.HeadBytes)], other); c != ingest.No {
			t.Errorf("Sniff says %d to %s", c, other)
		}
	}
}
