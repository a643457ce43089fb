package soundness_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/hex"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/signal"
	"example.org/bookend/soundness"
	"example.org/bookend/soundness/mend"
)

// data gives the path of one of the real recordings, where they are at hand: in the
// folder that BOOKEND_DATA names, or in ../shared/data beside the checkout.
func data(t testing.TB, path string) string {
	t.Helper()
	dir := os.Getenv("BOOKEND_DATA")
	if dir == "" {
		dir = filepath.Join("..", "..", "shared", "data")
	}
	full := filepath.Join(dir, filepath.FromSlash(path))
	if _, err := os.Stat(full); err != nil {
		t.Skipf("the real recordings are not here: %v", err)
	}
	return full
}

// text reads a text log with what a mapping says of its columns.
func text(t testing.TB, name string, log []byte, mapping string) *signal.Recording {
	t.Helper()
	opt := ingest.Options{Name: name}
	if mapping != "" {
		m, err := ingest.ParseMapping("mapping", []byte(mapping))
		if err != nil {
			t.Fatal(err)
		}
		opt.Mapping = m
	}
	rec, err := delimited.New().Read(context.Background(), bytes.NewReader(log), opt)
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

func file(t testing.TB, path, mapping string) *signal.Recording {
	t.Helper()
	log, err := os.ReadFile(data(t, path))
	if err != nil {
		t.Fatal(err)
	}
	return text(t, filepath.Base(path), log, mapping)
}

const roadCar = "vehicle/comma2k19_segment40/"

// pose gives the road car's fused positions as latitude and longitude, on the one
// clock of its files. The conversion is Bowring's (1976), good to well below a
// millimetre near the ground.
func pose(t testing.TB) *signal.Recording {
	t.Helper()
	f, err := os.Open(data(t, roadCar+"fused_pose_ecef_20hz.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	const a, b = 6378137.0, 6356752.314245
	const e2, d2 = 1 - b*b/(a*a), a*a/(b*b) - 1
	var log bytes.Buffer
	log.WriteString("boot_time_s,latitude_deg,longitude_deg\n")
	in := bufio.NewScanner(f)
	in.Scan()
	for in.Scan() {
		cells := strings.Split(in.Text(), ",")
		var v [4]float64
		for i := range v {
			if v[i], err = strconv.ParseFloat(cells[i], 64); err != nil {
				t.Fatal(err)
			}
		}
		p := math.Hypot(v[1], v[2])
		u := math.Atan2(v[3]*a, p*b)
		lat := math.Atan2(v[3]+d2*b*math.Pow(math.Sin(u), 3), p-e2*a*math.Pow(math.Cos(u), 3))
		fmt.Fprintf(&log, "%s,%.11f,%.11f\n", cells[0], lat/perDegree, math.Atan2(v[2], v[1])/perDegree)
	}
	return text(t, "fused_pose.csv", log.Bytes(), "")
}

// busYawRate gives the yaw rate of frame 0x024 as its description has it:
// 1|10@0+ (0.244,-125) deg/s, that is ten bits from bit 1 of byte 0 on, the most
// significant first.
func busYawRate(t testing.TB) *signal.Recording {
	t.Helper()
	raw, err := os.ReadFile(data(t, roadCar+"candump_bus0_first20s.log"))
	if err != nil {
		t.Fatal(err)
	}
	var log bytes.Buffer
	log.WriteString("boot_time_s,yaw_rate_degps\n")
	for line := range strings.Lines(string(raw)) {
		stamp, frame, ok := strings.Cut(line, " can0 024#")
		if !ok {
			continue
		}
		b, err := hex.DecodeString(strings.TrimSpace(frame))
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&log, "%s,%.3f\n", strings.Trim(stamp, "()"), float64(int(b[0]&3)<<8|int(b[1]))*0.244-125)
	}
	return text(t, "bus.csv", log.Bytes(), "")
}

func gnss(t testing.TB) *signal.Recording {
	return file(t, roadCar+"gnss_ublox.csv", "column,role\nboot_time_s,time\nutc_ms,ignore\n")
}

func only(t *testing.T, f []soundness.Finding, code, file string) soundness.Finding {
	t.Helper()
	for _, x := range f {
		if x.Code == code && x.Place.File == file {
			return x
		}
	}
	t.Fatalf("no %s of %s; said was:\n%s", code, file, judged(f))
	return soundness.Finding{}
}

// The road car's bus speed reads 0.9865 times its fused speed (data/README, computed
// with numpy), and its bus yaw rate lies 0.43 °/s below its gyro's.
func TestTheRoadCarsScaleAndBiasAreRevealed(t *testing.T) {
	can := file(t, roadCar+"can_speed.csv", "")
	f, err := soundness.Judge(pose(t), can)
	if err != nil {
		t.Fatal(err)
	}
	x := only(t, f, "scale_error", "can_speed.csv")
	if len(x.Mends) != 1 || x.Mends[0].What != mend.Scale || math.Abs(1/x.Mends[0].Value-0.9865) > 0.007 ||
		x.LineFactor == nil || math.Abs(*x.LineFactor-0.9865) > 0.002 || math.Abs(*x.LineOffset-0.084) > 0.04 {
		t.Errorf("scale of the bus speed: %v %s", x.Mends, x.Text)
	}

	gyro := file(t, roadCar+"imu_gyro.csv", "")
	f, err = soundness.Judge(gyro, can, busYawRate(t))
	if err != nil {
		t.Fatal(err)
	}
	x = only(t, f, "offset", "bus.csv")
	if len(x.Mends) != 1 || x.Mends[0].What != mend.Offset || math.Abs(x.Mends[0].Value/perDegree-0.43) > 0.1 {
		t.Errorf("bias of the bus yaw rate: %v %s", x.Mends, x.Text)
	}

	// Beside the satellites both show as well, and the receiver's values come late.
	f, err = soundness.Judge(gnss(t), gyro, can, busYawRate(t))
	if err != nil {
		t.Fatal(err)
	}
	only(t, f, "scale_error", "can_speed.csv")
	only(t, f, "late_channel", "gnss_ublox.csv")
	x = only(t, f, "offset", "bus.csv")
	if math.Abs(x.Mends[0].Value/perDegree-0.43) > 0.1 {
		t.Errorf("bias of the bus yaw rate beside the course: %s", x.Text)
	}
}

// The loops' velocities jump from one sample to the next as no van can (from 5.5 to
// 3.0 m/s in 0.05 s at 141923.40 s of loop 3, while its positions go on evenly), and
// that is said of them alone; nothing is said of the oval and of the stop.
func TestWhatIsSaidOfTheOtherRecordings(t *testing.T) {
	for path, want := range map[string]string{
		"laps/psu_loop_1.csv":                 "impossible_change",
		"laps/psu_loop_3.csv":                 "impossible_change",
		"laps/psu_loop_4.csv":                 "impossible_change",
		"laps/psu_testtrack_oval.csv":         "",
		"braking/roadview_abs_stop_1khz.csv":  "",
		"braking/roadview_abs_stop_100hz.csv": "",
	} {
		f, err := soundness.Judge(file(t, path, ""))
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, x := range f {
			if x.Code != want {
				t.Errorf("%s: it says %s %s: %s", path, x.Code, x.Place, x.Text)
			}
			if x.Place.Channel == "v_north_mps" && x.Code == want {
				found = true
				if strings.HasSuffix(path, "loop_3.csv") && math.Abs(*x.Place.TimeS-0.8) > 0.06 {
					t.Errorf("%s: the first change is at %.3f s", path, *x.Place.TimeS)
				}
			}
		}
		if want != "" && !found {
			t.Errorf("%s: %s is not said of the velocity to the north", path, want)
		}
	}
}
