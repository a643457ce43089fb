// Package write puts what the synthetic ground yields into files as loggers and
// people write them: text recordings, tables, sheets. What these files mean is
// written where their readers are; nothing of a reader is used here.
package write

import (
	"math"
	"strconv"
	"strings"
	"time"

	"example.org/bookend/sim/sensor"
	"example.org/bookend/sim/vehicle"
)

// File is one file: its name, and its bytes.
type File struct {
	Name string
	Data []byte
}

// Clock says how a recording states time.
type Clock int

// Ways to state time.
const (
	UTC     Clock = iota // ISO 8601 in UTC to the millisecond
	Seconds              // seconds since the logger was switched on
)

// Motion writes what really happened, as it was written down: the truth, in SI
// units and degrees of none.
func Motion(p []vehicle.Moment) []byte {
	out := []byte("time_s,east_m,north_m,heading_rad,vx_mps,vy_mps,yaw_rate_radps,ax_mps2,ay_mps2,roll_rad,pitch_rad,steering_rad,brake,throttle,station_m,offset_m,distance_m," +
		"share_fl,share_fr,share_rl,share_rr\n")
	for i := range p {
		m := &p[i]
		for k, v := range [...]float64{m.T, m.East, m.North, m.Heading, m.VX, m.VY, m.YawRate, m.AX, m.AY, m.Roll, m.Pitch, m.Steer, m.Brake, m.Throttle, m.Station, m.Offset, m.Distance,
			m.Share[0], m.Share[1], m.Share[2], m.Share[3]} {
			if k > 0 {
				out = append(out, ',')
			}
			out = decimal(out, v, 6)
		}
		out = append(out, '\n')
	}
	return out
}

// Recording writes a table as text, commas between the columns, a row of names on
// top; start is the instant at which the session's own time is 0, as nanoseconds of
// UTC. Missing values are empty cells.
func Recording(t sensor.Table, start int64, clock Clock) []byte {
	out := make([]byte, 0, len(t.Stamp)*(26+9*len(t.Names)))
	switch clock {
	case UTC:
		out = append(out, "utc"...)
	case Seconds:
		out = append(out, "time_s"...)
	}
	for _, n := range t.Names {
		out = append(append(out, ','), n...)
	}
	out = append(out, '\n')
	for i, s := range t.Stamp {
		switch clock {
		case UTC:
			at := time.Unix(0, start+int64(math.Round(s*1e3))*1e6).UTC()
			out = at.AppendFormat(out, "2006-01-02T15:04:05.000Z")
		case Seconds:
			out = strconv.AppendFloat(out, s, 'f', 4, 64)
		}
		for j := range t.Columns {
			out = append(out, ',')
			if v := t.Columns[j][i]; !math.IsNaN(v) {
				out = decimal(out, v, t.Digits[j])
			}
		}
		out = append(out, '\n')
	}
	return out
}

// decimal appends a number with a fixed number of decimals, never as minus zero.
func decimal(out []byte, v float64, digits int) []byte {
	from := len(out)
	out = strconv.AppendFloat(out, v, 'f', digits, 64)
	if out[from] == '-' && strings.Trim(string(out[from:]), "-0.") == "" {
		out = append(out[:from], out[from+1:]...)
	}
	return out
}

// Decimal gives a number with a fixed number of decimals.
func Decimal(v float64, digits int) string { return string(decimal(nil, v, digits)) }

// Sheet is a table as people type it.
type Sheet struct {
	Head []string
	Rows [][]string
}

// Add adds a row; it has a cell for each column.
func (s *Sheet) Add(cells ...string) {
	if len(cells) != len(s.Head) {
		panic("write: a row of " + strconv.Itoa(len(cells)) + " cells under a head of " + strconv.Itoa(len(s.Head)))
	}
	s.Rows = append(s.Rows, cells)
}

// Bytes gives the sheet as text, commas between the columns; cells that hold one
// are quoted.
func (s *Sheet) Bytes() []byte {
	var out []byte
	line := func(cells []string) {
		for i, c := range cells {
			if i > 0 {
				out = append(out, ',')
			}
			if strings.ContainsAny(c, ",\"\n") {
				c = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
			}
			out = append(out, c...)
		}
		out = append(out, '\n')
	}
	line(s.Head)
	for _, r := range s.Rows {
		line(r)
	}
	return out
}
