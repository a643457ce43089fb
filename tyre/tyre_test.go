package tyre_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/tyre"
)

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func TestEveryLoadIndexOfTheTable(t *testing.T) {
	golden.Run(t, "un-r30", "load-index", func(t *testing.T, c *golden.Case) {
		var want map[int]float64
		c.JSON(t, "expected.json", &want)
		if len(want) != tyre.GreatestLoadIndex-tyre.LeastLoadIndex+1 {
			t.Fatalf("%d indices", len(want))
		}
		for index, kg := range want {
			got, err := tyre.LoadOf(index)
			must(t, err)
			c.Near(t, "load", got, kg)
			back, err := tyre.LeastIndexFor(kg)
			if err != nil || back != index {
				t.Errorf("%g kg need index %d, not %d (%v)", kg, index, back, err)
			}
		}
	})
	for _, i := range []int{-1, 59, 131} {
		if _, err := tyre.LoadOf(i); fault.CodeOf(err) != fault.Unsupported {
			t.Errorf("index %d: %v", i, err)
		}
	}
}

// Load indices are rounded preferred numbers, 80 to the decade (the series R80
// of ISO 3, from memory): each lies within 2 % of 45 kg times 10^(n/80).
func TestLoadIndicesArePreferredNumbers(t *testing.T) {
	for i := tyre.LeastLoadIndex; i <= tyre.GreatestLoadIndex; i++ {
		kg, err := tyre.LoadOf(i)
		must(t, err)
		if r := kg / (45 * math.Pow(10, float64(i)/80)); math.Abs(r-1) > 0.02 {
			t.Errorf("index %d is %g kg, %.4f of the series", i, kg, r)
		}
	}
}

func TestEverySpeedSymbol(t *testing.T) {
	golden.Run(t, "un-r30", "speed-symbol", func(t *testing.T, c *golden.Case) {
		var want [][2]any
		c.JSON(t, "expected.json", &want)
		all := tyre.Symbols()
		if len(want) != len(all) {
			t.Fatalf("%d symbols, want %d", len(all), len(want))
		}
		for i, w := range want {
			s, err := tyre.ParseSpeedSymbol(strings.ToLower(w[0].(string)))
			must(t, err)
			if s != all[i] || s.String() != w[0] {
				t.Errorf("symbol %d is %s, want %s", i, all[i], w[0])
			}
			mps, _ := s.Speed()
			c.Near(t, s.String(), mps, w[1].(float64)/3.6)
			if least, err := tyre.LeastSymbolFor(w[1].(float64) / 3.6); err != nil || least != s {
				t.Errorf("%v km/h need %s, not %s (%v)", w[1], s, least, err)
			}
		}
	})
	for _, s := range []string{"", "A", "I", "O", "X", "Z", "VV", "é"} {
		if _, err := tyre.ParseSpeedSymbol(s); fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
			t.Errorf("%q: %v", s, err)
		}
	}
	if _, err := tyre.LeastSymbolFor(301 / 3.6); err == nil {
		t.Error("a symbol covers 301 km/h")
	}
}

func TestLoadAtHighSpeed(t *testing.T) {
	golden.Run(t, "un-r30", "load-at-speed", func(t *testing.T, c *golden.Case) {
		var want [][3]any
		c.JSON(t, "expected.json", &want)
		for _, w := range want {
			s, err := tyre.ParseSpeedSymbol(w[0].(string))
			must(t, err)
			c.Near(t, s.String(), s.ShareAt(w[1].(float64)/3.6), w[2].(float64))
		}
	})
	// The share never rises with speed, and is whole at rest.
	for _, s := range tyre.Symbols() {
		last := s.ShareAt(0)
		if last != 1 {
			t.Errorf("%s carries %g at rest", s, last)
		}
		for kmh := 1.0; kmh < 320; kmh++ {
			v := s.ShareAt(kmh / 3.6)
			if v > last {
				t.Errorf("%s: the share rises to %g at %g km/h", s, v, kmh)
			}
			last = v
		}
		if last != 0 {
			t.Errorf("%s carries %g at 319 km/h", s, last)
		}
	}
	if got := tyre.SpeedSymbol('V').ShareAt(225 / 3.6); math.Abs(got-0.955) > 1e-12 {
		t.Errorf("V at 225 km/h carries %g, halfway between 0.97 and 0.94", got)
	}
	if tyre.SpeedSymbol('Q').ShareAt(math.NaN()) != 0 || tyre.SpeedSymbol(0).ShareAt(1) != 0 {
		t.Error("nothing is carried by no symbol or at no speed")
	}
}

func TestPressures(t *testing.T) {
	golden.Run(t, "unece-r117-annex-3", "pressure-for-load", func(t *testing.T, c *golden.Case) {
		var w struct {
			Reference float64 `json:"reference_kpa"`
			Share     float64 `json:"load_share"`
			Pressure  float64 `json:"pressure_kpa"`
		}
		c.JSON(t, "expected.json", &w)
		c.Near(t, "pressure", tyre.PressureFor(w.Share*615, 615, w.Reference*1e3)/1e3, w.Pressure)
	})
	golden.Run(t, "closed-forms", "warm-pressure", func(t *testing.T, c *golden.Case) {
		var w struct {
			Set   float64 `json:"set_kpa"`
			SetAt float64 `json:"set_at_degc"`
			Now   float64 `json:"now_degc"`
			Want  float64 `json:"now_kpa"`
		}
		c.JSON(t, "expected.json", &w)
		c.Near(t, "pressure", tyre.WarmPressure(w.Set*1e3, w.SetAt, w.Now)/1e3, w.Want)
	})
	for _, kg := range []float64{100, 300, 615, 700} {
		if back := tyre.LoadAt(tyre.PressureFor(kg, 615, 250e3), 615, 250e3); math.Abs(back-kg) > 1e-9 {
			t.Errorf("%g kg come back as %g", kg, back)
		}
	}
	if p := tyre.WarmPressure(tyre.WarmPressure(220e3, 15, 55), 55, 15); math.Abs(p-220e3) > 1e-6 {
		t.Errorf("warmed and cooled, 220 kPa are %g Pa", p)
	}
}

func TestDimensions(t *testing.T) {
	golden.Run(t, "closed-forms", "size-dimensions", func(t *testing.T, c *golden.Case) {
		var want []struct {
			Size          string
			Height        float64 `json:"section_height_mm"`
			Diameter      float64 `json:"diameter_mm"`
			Circumference float64 `json:"circumference_mm"`
		}
		c.JSON(t, "expected.json", &want)
		for _, w := range want {
			s, err := tyre.ParseSize(w.Size)
			must(t, err)
			d, doubts := s.Dimensions()
			c.Near(t, w.Size+" height", d.SectionHeight*1e3, w.Height)
			c.Near(t, w.Size+" diameter", d.Diameter*1e3, w.Diameter)
			c.Near(t, w.Size+" circumference", d.Circumference*1e3, w.Circumference)
			if len(doubts) != 0 || d.RollingLow >= d.RollingHigh || d.RollingHigh >= d.Circumference {
				t.Errorf("%s: %+v, %v", w.Size, d, doubts)
			}
		}
	})
	s, err := tyre.ParseSize("185 R14C 102/100Q")
	must(t, err)
	d, doubts := s.Dimensions()
	if len(doubts) != 1 || doubts[0].Code != "no_aspect_ratio" || math.Abs(d.Diameter-(14*0.0254+2*0.185*0.80)) > 1e-12 {
		t.Errorf("%+v, %v", d, doubts)
	}
}

// The forms of a size: common practice; the marks are those of ISO 4000-1 and
// UN R30, from memory.
func TestSizes(t *testing.T) {
	v := func(i int, s byte) *tyre.Service { return &tyre.Service{Index: i, Speed: tyre.SpeedSymbol(s)} }
	for _, c := range []struct {
		text, written string
		want          tyre.Size
	}{
		{"205/55 R16 91V", "205/55 R16 91V", tyre.Size{WidthMM: 205, Aspect: 55, Construction: "R", RimTenths: 160, Service: v(91, 'V')}},
		{"205/55R16 91v", "205/55 R16 91V", tyre.Size{WidthMM: 205, Aspect: 55, Construction: "R", RimTenths: 160, Service: v(91, 'V')}},
		{"205/55 R 16 91 V", "205/55 R16 91V", tyre.Size{WidthMM: 205, Aspect: 55, Construction: "R", RimTenths: 160, Service: v(91, 'V')}},
		{"225/45 ZR17 (91Y)", "225/45 ZR17 (91Y)", tyre.Size{WidthMM: 225, Aspect: 45, Construction: "ZR", RimTenths: 170, Service: &tyre.Service{Index: 91, Speed: 'Y', Above: true}}},
		{"225/45 ZR17 91(Y)", "225/45 ZR17 (91Y)", tyre.Size{WidthMM: 225, Aspect: 45, Construction: "ZR", RimTenths: 170, Service: &tyre.Service{Index: 91, Speed: 'Y', Above: true}}},
		{"225/45 ZR17", "225/45 ZR17", tyre.Size{WidthMM: 225, Aspect: 45, Construction: "ZR", RimTenths: 170}},
		{"255/35 R19 96Y XL", "255/35 R19 96Y XL", tyre.Size{WidthMM: 255, Aspect: 35, Construction: "R", RimTenths: 190, Service: v(96, 'Y'), ExtraLoad: true}},
		{"255/35 R19 96Y EXTRA LOAD M+S 3PMSF TL", "255/35 R19 96Y XL M+S 3PMSF TL", tyre.Size{WidthMM: 255, Aspect: 35, Construction: "R", RimTenths: 190, Service: v(96, 'Y'), ExtraLoad: true, MudSnow: true, SnowFlake: true, Tubeless: true}},
		{"205/55 R16 91V RF", "205/55 R16 91V XL", tyre.Size{WidthMM: 205, Aspect: 55, Construction: "R", RimTenths: 160, Service: v(91, 'V'), ExtraLoad: true}},
		{"245/40 RF19 98Y", "245/40 RF19 98Y", tyre.Size{WidthMM: 245, Aspect: 40, Construction: "RF", RimTenths: 190, Service: v(98, 'Y')}},
		{"245/40 ZRF19 98Y", "245/40 ZRF19 98Y", tyre.Size{WidthMM: 245, Aspect: 40, Construction: "ZRF", RimTenths: 190, Service: v(98, 'Y')}},
		{"215/65 R16C 109/107T", "215/65 R16C 109/107T", tyre.Size{WidthMM: 215, Aspect: 65, Construction: "R", RimTenths: 160, Commercial: "C", Service: &tyre.Service{Index: 109, Twin: 107, Speed: 'T'}}},
		{"215/65 R16 C 109/107T (106T)", "215/65 R16C 109/107T 106T", tyre.Size{WidthMM: 215, Aspect: 65, Construction: "R", RimTenths: 160, Commercial: "C", Service: &tyre.Service{Index: 109, Twin: 107, Speed: 'T'}, Second: v(106, 'T')}},
		{"215/75 R17.5 126/124M 127/124L", "215/75 R17.5 126/124M 127/124L", tyre.Size{WidthMM: 215, Aspect: 75, Construction: "R", RimTenths: 175, Service: &tyre.Service{Index: 126, Twin: 124, Speed: 'M'}, Second: &tyre.Service{Index: 127, Twin: 124, Speed: 'L'}}},
		{"225/70 R15CP 112R", "225/70 R15CP 112R", tyre.Size{WidthMM: 225, Aspect: 70, Construction: "R", RimTenths: 150, Commercial: "CP", Service: v(112, 'R')}},
		{"LT235/85R16 120/116Q", "LT235/85 R16 120/116Q", tyre.Size{Kind: "LT", WidthMM: 235, Aspect: 85, Construction: "R", RimTenths: 160, Service: &tyre.Service{Index: 120, Twin: 116, Speed: 'Q'}}},
		{"185 R14C 102/100Q", "185 R14C 102/100Q", tyre.Size{WidthMM: 185, Construction: "R", RimTenths: 140, Commercial: "C", Service: &tyre.Service{Index: 102, Twin: 100, Speed: 'Q'}}},
		{"T125/70 R17 98M", "T125/70 R17 98M", tyre.Size{Kind: "T", WidthMM: 125, Aspect: 70, Construction: "R", RimTenths: 170, Service: v(98, 'M')}},
		{"P225/60R16 97S", "P225/60 R16 97S", tyre.Size{Kind: "P", WidthMM: 225, Aspect: 60, Construction: "R", RimTenths: 160, Service: v(97, 'S')}},
		{"HL245/40 R19 101Y", "HL245/40 R19 101Y", tyre.Size{Kind: "HL", WidthMM: 245, Aspect: 40, Construction: "R", RimTenths: 190, Service: v(101, 'Y')}},
		{"155-13 78S", "155-13 78S", tyre.Size{WidthMM: 155, Construction: "-", RimTenths: 130, Service: v(78, 'S')}},
		{"165/80D13 82S", "165/80 D13 82S", tyre.Size{WidthMM: 165, Aspect: 80, Construction: "D", RimTenths: 130, Service: v(82, 'S')}},
		{"205/70B15 95H", "205/70 B15 95H", tyre.Size{WidthMM: 205, Aspect: 70, Construction: "B", RimTenths: 150, Service: v(95, 'H')}},
		{"195/100 R15 94H", "195/100 R15 94H", tyre.Size{WidthMM: 195, Aspect: 100, Construction: "R", RimTenths: 150, Service: v(94, 'H')}},
		{"205/55 R16 M+S", "205/55 R16 M+S", tyre.Size{WidthMM: 205, Aspect: 55, Construction: "R", RimTenths: 160, MudSnow: true}},
		{"205/55 R16 3PMSF", "205/55 R16 3PMSF", tyre.Size{WidthMM: 205, Aspect: 55, Construction: "R", RimTenths: 160, SnowFlake: true}},
	} {
		got, err := tyre.ParseSize(c.text)
		if err != nil {
			t.Errorf("%q: %v", c.text, err)
			continue
		}
		if !got.Equal(c.want) || got.String() != c.written {
			t.Errorf("%q is %q, want %q", c.text, got, c.written)
		}
		if again, err := tyre.ParseSize(got.String()); err != nil || !again.Equal(got) {
			t.Errorf("%q does not come back: %v, %v", got, again, err)
		}
	}
}

func TestWhatIsNoSize(t *testing.T) {
	for _, text := range []string{
		"", "R16", "20/55 R16", "2055/55 R16", "205/5 R16", "205/ R16", "205/55 16 91V", "205/55 X16", "205/55 R1", "205/55 R16.3 91V",
		"205/55 R40", "205/55 R16 91", "205/55 R16 91X", "205/55 R16 9V", "205/55 R16 1000V", "205/55 R16 (91V", "205/55 R16 (91V) XL XX",
		"205/55 R16 91(V)", "215/65 R16C 107/109T", "205/55 R16 91V MAGIC", "205/55 R16 91VXL", "205/55R16\x00", "205/55 R16 91V (91Y)",
		"099/55 R16", "205/55 R16 91é", "205/55 R16 59V", "205/55 R16 131V", "205/55 R16 00V", "205/55 R16C 100/00V", strings.Repeat("2", 200),
	} {
		_, err := tyre.ParseSize(text)
		if code := fault.CodeOf(err); code != fault.Invalid && code != fault.Unsupported || fault.HintOf(err) == "" {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func TestTopSpeed(t *testing.T) {
	for _, c := range []struct {
		text string
		kmh  float64
		ok   bool
	}{{"205/55 R16 91V", 240, true}, {"225/45 ZR17", 240, true}, {"225/45 ZR17 (91Y)", 300, true}, {"205/55 R16", 0, false}} {
		s, err := tyre.ParseSize(c.text)
		must(t, err)
		if got, ok := s.TopSpeed(); ok != c.ok || math.Abs(got-c.kmh/3.6) > 1e-12 {
			t.Errorf("%s: %g, %v", c.text, got, ok)
		}
	}
}

func TestWeeksAreThoseOfTheRule(t *testing.T) {
	golden.Run(t, "cfr-49-574-5", "weeks", func(t *testing.T, c *golden.Case) {
		var want [][2]string
		c.JSON(t, "expected.json", &want)
		for _, w := range want {
			d, err := tyre.ParseDateCode("DOT XXXX XXXX " + w[0])
			must(t, err)
			first, last := d.Days()
			if first.Format(time.DateOnly) != w[1] || last.Sub(first).Hours() != 6*24 || d.String() != w[0] {
				t.Errorf("%s begins on %s, want %s", w[0], first.Format(time.DateOnly), w[1])
			}
		}
	})
	golden.Run(t, "python-3.11", "week-of-the-year", func(t *testing.T, c *golden.Case) {
		var want [][5]any
		c.JSON(t, "expected.json", &want)
		for _, w := range want {
			d := tyre.DateCode{Year: int(w[0].(float64)), Week: int(w[1].(float64))}
			first, _ := d.Days()
			y, week := d.ISOWeek()
			if first.Format(time.DateOnly) != w[2] || float64(y) != w[3] || float64(week) != w[4] {
				t.Errorf("%v begins on %s in ISO week %d of %d", w, first.Format(time.DateOnly), week, y)
			}
		}
	})
}

// Weeks follow each other without gap or overlap from year to year, the last
// holds at most six days of the next year, and the number differs from that of
// ISO 8601 by none or one.
func TestWeeksTileTheYears(t *testing.T) {
	for year := 1990; year < 2099; year++ {
		n := tyre.WeeksOf(year)
		if n != 52 && n != 53 {
			t.Fatalf("%d has %d weeks", year, n)
		}
		for week := 1; week <= n; week++ {
			d := tyre.DateCode{Week: week, Year: year}
			first, last := d.Days()
			next := tyre.DateCode{Week: week + 1, Year: year}
			if week == n {
				next = tyre.DateCode{Week: 1, Year: year + 1}
			}
			if begins, _ := next.Days(); begins.Sub(last).Hours() != 24 {
				t.Fatalf("after %v comes %s", d, begins)
			}
			if first.Year() != year || first.Weekday() != time.Sunday || last.Weekday() != time.Saturday {
				t.Fatalf("%v begins on %s", d, first)
			}
			y, iso := d.ISOWeek()
			if y == year && iso != week && iso != week+1 || y != year && week < 51 {
				t.Fatalf("%v is ISO week %d of %d", d, iso, y)
			}
		}
	}
}

func TestWhatIsNoDateCode(t *testing.T) {
	for _, text := range []string{"", "32", "0023", "5423", "32-23", "322A", "32233", "DOT", "DOT ABCD", "XYZ 3223"} {
		if _, err := tyre.ParseDateCode(text); fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func TestDateFlags(t *testing.T) {
	day := time.Date(2023, 10, 2, 0, 0, 0, 0, time.UTC)
	code := func(text string) tyre.DateCode {
		d, err := tyre.ParseDateCode(text)
		must(t, err)
		return d
	}
	for _, c := range []struct {
		codes, want string
	}{
		{"", "date_code_missing"},
		{"3223 3223 3223 3223", ""},
		{"3223 3223 3023 3223", "mixed_date_codes"},
		{"3222 3222 3222 3222", "old_tyre"},
		{"4023 4023", ""}, // week 40 begins on 2023-10-01: the day before
		{"4123", "date_code_to_come"},
		{"329", "date_code_of_three_digits old_tyre"},
		{"5322", "date_code_week_missing"}, // 2022 has 52: its week 53 is week 01 of 2023
		{"3222 3223", "old_tyre mixed_date_codes"},
	} {
		var codes []tyre.DateCode
		for _, f := range strings.Fields(c.codes) {
			codes = append(codes, code(f))
		}
		var got []string
		for _, k := range tyre.DateFlags(codes, day, tyre.OldYears) {
			got = append(got, k.Code)
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s: %v, want %s", c.codes, got, c.want)
		}
	}
	// 3223 ends on 2023-08-12; 51 days later.
	if y := code("3223").YearsAt(day); math.Abs(y-51/365.25) > 1e-12 {
		t.Errorf("%g years", y)
	}
}

func TestChecksAgainstVehicleAndManoeuvre(t *testing.T) {
	car := []tyre.Axle{{Name: "front", Kg: 900, ColdPa: 230e3}, {Name: "rear", Kg: 800, ColdPa: 230e3}}
	for _, c := range []struct {
		name, size string
		axles      []tyre.Axle
		kmh        float64
		over       []string // words of the refusal
		doubts     string
	}{
		{"within", "205/55 R16 91V", car, 130, nil, ""},
		{"too fast", "205/55 R16 91Q", car, 170, []string{"speed symbol Q ends at 160 km/h"}, ""},
		{"too heavy", "205/55 R16 79V", car, 130, []string{"front axle puts 450 kg on a tyre, load index 79 carries 437 kg"}, ""},
		// 91V at 240 km/h carries 0.91 of 615 kg, 559.65 kg.
		{"too heavy at that speed", "205/55 R16 91V", []tyre.Axle{{Name: "rear", Kg: 1130, ColdPa: 250e3}}, 240, []string{"load index 91 carries 560 kg at 240 km/h"}, ""},
		{"as heavy as it may be", "205/55 R16 91V", []tyre.Axle{{Name: "rear", Kg: 1230, ColdPa: 250e3}}, 210, nil, ""},
		// 450 of 615 kg need 250 (450/615)^1.25 = 169.1 kPa.
		{"too soft", "205/55 R16 91V", []tyre.Axle{{Name: "front", Kg: 900, ColdPa: 169e3}}, 130, []string{"pressure is 169 kPa cold, 450 kg a tyre need 169 kPa"}, ""},
		{"just hard enough", "205/55 R16 91V", []tyre.Axle{{Name: "front", Kg: 900, ColdPa: 169.3e3}}, 130, nil, ""},
		{"too hard", "205/55 R16 91V", []tyre.Axle{{Name: "front", Kg: 900, ColdPa: 360e3, MostColdPa: 350e3}}, 130, []string{"at most 350 kPa"}, ""},
		{"everything at once", "205/55 R16 79Q", car, 170, []string{"speed symbol", "front axle", "ends at 160"}, ""},
		{"twin", "LT235/85R16 120/116Q", []tyre.Axle{{Name: "rear", Kg: 5100, Twin: true}}, 100, []string{"load index 116 carries 1250 kg"}, "no_pressure"},
		{"twin without an index", "LT235/85R16 120Q", []tyre.Axle{{Name: "rear", Kg: 4000, Twin: true}}, 100, nil, "no_twin_load_index"},
		{"pressure on the sidewall", "215/65 R16C 109/107T", car, 100, nil, "no_reference_pressure no_reference_pressure"},
		{"nothing marked", "205/55 R16", car, 130, nil, "no_speed_symbol no_load_index no_load_index"},
		{"the maker decides", "225/45 ZR17", car, 250, nil, "speed_by_the_maker no_load_index no_load_index"},
		{"above 300", "225/45 ZR17 (91Y)", car, 310, nil, "speed_by_the_maker"},
		{"spare", "T125/70 R17 98M", []tyre.Axle{{Name: "rear", Kg: 900, ColdPa: 420e3}}, 80, nil, "temporary_tyre"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := tyre.ParseSize(c.size)
			must(t, err)
			doubts, err := s.Check(c.axles, tyre.Duty{SpeedMps: c.kmh / 3.6})
			var codes []string
			for _, d := range doubts {
				codes = append(codes, d.Code)
			}
			if strings.Join(codes, " ") != c.doubts {
				t.Errorf("doubts %v, want %q", codes, c.doubts)
			}
			if (err != nil) != (len(c.over) > 0) {
				t.Fatalf("%v", err)
			}
			for _, word := range c.over {
				if !strings.Contains(err.Error(), word) || fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
					t.Errorf("%v does not say %q", err, word)
				}
			}
		})
	}
	s, err := tyre.ParseSize("205/55 R16 91V")
	must(t, err)
	for _, bad := range []struct {
		a []tyre.Axle
		v float64
	}{
		{car, 0}, {car, math.NaN()}, {car, math.Inf(1)}, {[]tyre.Axle{{Kg: math.NaN()}}, 30}, {[]tyre.Axle{{Kg: 900, ColdPa: -1}}, 30},
	} {
		if _, err := s.Check(bad.a, tyre.Duty{SpeedMps: bad.v}); fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
			t.Errorf("%v at %g m/s: %v", bad.a, bad.v, err)
		}
	}
}

// The hint names a marking that passes the check that was refused.
func TestTheHintHelps(t *testing.T) {
	axles := []tyre.Axle{{Name: "front", Kg: 1000, ColdPa: 250e3}}
	s, err := tyre.ParseSize("195/65 R15 80Q")
	must(t, err)
	_, err = s.Check(axles, tyre.Duty{SpeedMps: 220 / 3.6})
	if !strings.Contains(fault.HintOf(err), "at least 86V") { // 500 kg by 0.97 is 515.5 kg: 86 carries 530
		t.Fatalf("%v: %s", err, fault.HintOf(err))
	}
	s, err = tyre.ParseSize("195/65 R15 86V")
	must(t, err)
	if _, err := s.Check(axles, tyre.Duty{SpeedMps: 220 / 3.6}); err != nil {
		t.Error(err)
	}
}

// Whatever is typed, it is a size or it is refused with a hint; what is read is
// written in one form, and read again as the same.
func FuzzParseSize(f *testing.F) {
	for _, s := range []string{
		"205/55 R16 91V", "225/45 ZR17 (91Y)", "255/35 R19 96Y XL", "215/65 R16C 109/107T", "LT235/85R16 120/116Q", "185 R14C 102/100Q",
		"T125/70 R17 98M", "P225/60R16 97S", "HL245/40 R19 101Y", "155-13 78S", "215/75 R17,5 126/124M (127/124L) M+S 3PMSF TL",
		"205/55 R16 91(Y)", "\u00a0205 / 55 R16", "205/55 ZRF16 91Y RF", "", "\xff", "ſ05/55 R16", "100B10C00B", "100B08",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := tyre.ParseSize(text)
		if err != nil {
			if code := fault.CodeOf(err); code != fault.Invalid && code != fault.Unsupported || fault.HintOf(err) == "" {
				t.Errorf("%q: %v without code or hint", text, err)
			}
			return
		}
		again, err := tyre.ParseSize(s.String())
		if err != nil || again.String() != s.String() {
			t.Errorf("%q is %q, read again as %q (%v)", text, s, again, err)
		}
		d, _ := s.Dimensions()
		if !(d.Diameter > d.Rim && d.Circumference > 3*d.Diameter) {
			t.Errorf("%q: %+v", text, d)
		}
	})
}

// Whatever is typed, it is a date code of a week or it is refused with a hint.
func FuzzParseDateCode(f *testing.F) {
	for _, s := range []string{"3223", "019", "DOT AB12 CDEF 0124", "5399", "", "0\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := tyre.ParseDateCode(text)
		if err != nil {
			if fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
				t.Errorf("%q: %v without code or hint", text, err)
			}
			return
		}
		if again, err := tyre.ParseDateCode(d.String()); err != nil || again != d {
			t.Errorf("%q is %v, read again as %v (%v)", text, d, again, err)
		}
	})
}
