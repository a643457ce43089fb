package ingest

import (
	"slices"
	"strings"

	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// roleKind says in what a role is measured, and what its unit may be where a
// file states none. The bounds of assumed are own: beyond them a road vehicle
// cannot have been the source.
type roleKind struct {
	role       signal.Role
	dimensions []unit.Dimension
	assumed    []assumption
}

// assumption is a unit that values up to a bound are taken to be in.
type assumption struct {
	unit  unit.Unit
	bound float64 // greatest magnitude, in that unit
	whole bool    // only if every value is a whole number
}

var (
	rad   = unit.MustParse("rad")
	deg   = unit.MustParse("deg")
	degE7 = unit.MustParse("deg*1e7")
	one   = unit.MustParse("1")
	metre = unit.MustParse("m")
	mps   = unit.MustParse("m/s")
	mps2  = unit.MustParse("m/s^2")
	radps = unit.MustParse("rad/s")
	newtm = unit.MustParse("Nm")
	degC  = unit.MustParse("degC")
)

func dims(d ...unit.Dimension) []unit.Dimension { return d }

var roles = []roleKind{
	{signal.Latitude, dims(unit.Angle), []assumption{{deg, 90, false}, {degE7, 90e7, true}}},
	{signal.Longitude, dims(unit.Angle), []assumption{{deg, 180, false}, {degE7, 180e7, true}}},
	{signal.Height, dims(unit.Length), []assumption{{metre, 6000, false}}},
	{signal.East, dims(unit.Length), []assumption{{metre, 1e7, false}}},
	{signal.North, dims(unit.Length), []assumption{{metre, 1e7, false}}},
	{signal.Speed, dims(unit.Speed), []assumption{{mps, 110, false}}},
	{signal.VelocityNorth, dims(unit.Speed), []assumption{{mps, 110, false}}},
	{signal.VelocityEast, dims(unit.Speed), []assumption{{mps, 110, false}}},
	{signal.VelocityUp, dims(unit.Speed), []assumption{{mps, 110, false}}},
	{signal.CourseAngle, dims(unit.Angle), []assumption{{deg, 360, false}}},
	{signal.Heading, dims(unit.Angle), []assumption{{deg, 360, false}}},
	{signal.AccelX, dims(unit.Acceleration), []assumption{{mps2, 60, false}}},
	{signal.AccelY, dims(unit.Acceleration), []assumption{{mps2, 60, false}}},
	{signal.AccelZ, dims(unit.Acceleration), []assumption{{mps2, 200, false}}},
	{signal.YawRate, dims(unit.AngularSpeed), []assumption{{radps, 6, false}}},
	{signal.RollRate, dims(unit.AngularSpeed), []assumption{{radps, 6, false}}},
	{signal.PitchRate, dims(unit.AngularSpeed), []assumption{{radps, 6, false}}},
	{signal.Roll, dims(unit.Angle), []assumption{{rad, 1.6, false}}},
	{signal.Pitch, dims(unit.Angle), []assumption{{rad, 1.6, false}}},
	{signal.Sideslip, dims(unit.Angle), []assumption{{rad, 3.2, false}}},
	{signal.SteeringAngle, dims(unit.Angle), []assumption{{rad, 16, false}}},
	{signal.SteeringTorque, dims(unit.Torque), []assumption{{newtm, 100, false}}},
	{signal.WheelSpeedFL, dims(unit.Speed, unit.AngularSpeed), []assumption{{mps, 110, false}}},
	{signal.WheelSpeedFR, dims(unit.Speed, unit.AngularSpeed), []assumption{{mps, 110, false}}},
	{signal.WheelSpeedRL, dims(unit.Speed, unit.AngularSpeed), []assumption{{mps, 110, false}}},
	{signal.WheelSpeedRR, dims(unit.Speed, unit.AngularSpeed), []assumption{{mps, 110, false}}},
	{signal.Brake, dims(unit.Ratio), []assumption{{one, 1, false}}},
	{signal.Throttle, dims(unit.Ratio), []assumption{{one, 1, false}}},
	{signal.Satellites, dims(unit.Ratio), []assumption{{one, 200, true}}},
	{signal.FixQuality, dims(unit.Ratio), []assumption{{one, 255, true}}},
	{signal.Distance, dims(unit.Length), []assumption{{metre, 1e9, false}}},
	{signal.AirTemperature, dims(unit.Temperature), []assumption{{degC, 60, false}}},
	{signal.WaterDepth, dims(unit.Length), []assumption{{metre, 0.05, false}}},
	{signal.BeamTrigger, dims(unit.Ratio), []assumption{{one, 1, false}}},
}

// Dimensions gives what a role may be measured in, its usual dimension first;
// known is false for a role that there is none of. The empty role, Ignore and
// Time are known; the first two may be in anything.
func Dimensions(role signal.Role) (d []unit.Dimension, known bool) {
	switch role {
	case "", Ignore:
		return nil, true
	case Time:
		return dims(unit.Time), true
	}
	for i := range roles {
		if roles[i].role == role {
			return roles[i].dimensions, true
		}
	}
	return nil, false
}

func fits(d unit.Dimension, among []unit.Dimension) bool { return slices.Contains(among, d) }

func roleNames() []string {
	out := []string{string(Ignore), string(Time)}
	for i := range roles {
		out = append(out, string(roles[i].role))
	}
	return out
}

// Assume gives the unit that values of a role are taken to be in where a file
// states none: SI, but degrees for positions and directions, or 1e-7 degrees if
// all are whole numbers. most is the greatest magnitude among them; ok is false
// if it is more than a road vehicle can have shown in that unit.
func Assume(role signal.Role, most float64, whole bool) (u unit.Unit, ok bool) {
	for i := range roles {
		if roles[i].role != role {
			continue
		}
		for _, a := range roles[i].assumed {
			if most <= a.bound && (whole || !a.whole) {
				return a.unit, true
			}
		}
	}
	return unit.Unit{}, false
}

// Guess is what a column's name says of its role.
type Guess struct {
	Role   signal.Role // empty: nothing
	Mirror bool        // the name says that it is positive to the right or down: against ISO 8855
	Weak   bool        // the name says so only in passing; a column with a plain name goes first
	Frame  bool        // the plane that the position lies in is not said to point east and north
}

// names are the spellings that roles go by, in lower case with nothing but
// letters and digits, umlauts written out. Own list: abbreviations that loggers'
// exports commonly carry, in English and German, without any one maker's.
// "-" before a spelling: the sign is opposite; "?": weak; "~": frame unknown.
var names = map[signal.Role]string{
	signal.Latitude:       "lat latitude latdeg breite breitengrad geobreite geogrbreite poslat positionlat positionlatitude",
	signal.Longitude:      "lon lng long longitude laenge laengengrad geolaenge geogrlaenge poslon poslong positionlon positionlongitude",
	signal.Height:         "height altitude alt elev elevation ele hoehe msl heightmsl ellipsoidheight ?hae",
	signal.East:           "east xeast easting eastm ost rechtswert utme poseast ~?relposx ~?posx ~?xpos ~?positionx",
	signal.North:          "north ynorth northing northm nord hochwert utmn posnorth ~?relposy ~?posy ~?ypos ~?positiony",
	signal.Speed:          "speed velocity v geschwindigkeit geschw vehiclespeed vehspeed vehspd speedoverground sog groundspeed fahrgeschwindigkeit fahrzeuggeschwindigkeit tempo spd speed2d horizontalspeed ?vx ?velocityx ?velx ?vlong ?speedx ?longitudinalvelocity ?longitudinalspeed ?laengsgeschwindigkeit ?devicespeed ?vel",
	signal.VelocityNorth:  "vnorth velnorth velocitynorth northvelocity vn veln vnord",
	signal.VelocityEast:   "veast veleast velocityeast eastvelocity ve vele vost",
	signal.VelocityUp:     "vup velup velocityup upvelocity vu verticalspeed verticalvelocity -vdown -veldown -velocitydown -downvelocity -vd",
	signal.CourseAngle:    "course courseoverground cog track trackangle kurs bearing ?direction headingofmotion headmot",
	signal.Heading:        "heading yaw yawangle gierwinkel hdg trueheading psi azimuth ?richtung",
	signal.AccelX:         "ax accx accelx accelerationx xacc xaccel xacceleration longacc accellong accelerationlong longaccel accelerationlongitudinal longitudinalacceleration longitudinalacc longitudinalaccel acclong accforward accelforward accelerationforward laengsbeschleunigung beschleunigunglaengs beschleunigungx forwardacceleration ?gforcex ?longg ?glong inlineacc",
	signal.AccelY:         "ay accy accely accelerationy yacc yaccel yacceleration latacc accellat accelerationlat lataccel accelerationlateral lateralacceleration lateralacc lateralaccel acclat accleft accelleft querbeschleunigung beschleunigungquer beschleunigungy ?gforcey ?latg ?glat -accright -accelright -accelerationright",
	signal.AccelZ:         "az accz accelz accelerationz zacc zaccel zacceleration vertacc accelvert accelerationvertical verticalacceleration verticalacc accup accelup accelerationup vertikalbeschleunigung hochbeschleunigung beschleunigungz ?gforcez -accdown -acceldown -accelerationdown",
	signal.YawRate:        "yawrate yawvelocity yawspeed gierrate giergeschwindigkeit gierwinkelgeschwindigkeit wz gz gyroz omegaz ratez psidot psip gyroup yawr zrate angularvelocityz angvelz -gyrodown",
	signal.RollRate:       "rollrate wankrate wankgeschwindigkeit wx gx gyrox omegax ratex phidot gyroforward angularvelocityx angvelx rollvelocity",
	signal.PitchRate:      "pitchrate nickrate nickgeschwindigkeit wy gy gyroy omegay ratey thetadot gyroleft angularvelocityy angvely pitchvelocity -gyroright",
	signal.Roll:           "roll rollangle wankwinkel phi",
	signal.Pitch:          "pitch pitchangle nickwinkel theta",
	signal.Sideslip:       "sideslip sideslipangle slipangle beta schwimmwinkel bodyslip bodyslipangle schraeglaufwinkel",
	signal.SteeringAngle:  "steering steeringangle steeringwheelangle steeringwheel swa steerangle steer steerwheelangle handwheelangle handwheel lenkwinkel lenkradwinkel lenkrad strwhlangle steeringpos steeringposition stwangle",
	signal.SteeringTorque: "steeringtorque steeringwheeltorque swt steertorque handwheeltorque lenkmoment lenkradmoment",
	signal.Brake:          "brake brakesignal brakeswitch brakelight brakepedal brakepos brakeposition brakecmd brakecommand braketrigger brakeon bremse bremspedal bremslicht bremssignal bremsschalter bremstrigger ?brakeactive",
	signal.Throttle:       "throttle throttlepos throttleposition throttlepedal accpedal acceleratorpedal accelerator gas gaspedal fahrpedal pedal",
	signal.Satellites:     "sats satellites numsats numsat nsat nsats satcount satellitesused satelliten satellitenzahl numsv numsatellites",
	signal.FixQuality:     "fix fixquality fixtype gpsfix gpsquality quality navmode fixmode positionmode solutionstatus",
	signal.Distance:       "distance dist odometer odo trip wegstrecke strecke weg devicedistance distanz tripdistance",
	signal.AirTemperature: "airtemp airtemperature ambienttemp ambienttemperature outsidetemp lufttemperatur aussentemperatur tair ambient",
	signal.WaterDepth:     "waterdepth wasserhoehe wasserfilm wassertiefe waterfilm waterfilmdepth",
	signal.BeamTrigger:    "trigger beam lightbeam lichtschranke beamtrigger triggerin marker eventmarker",
}

// prefixes and suffixes say where a signal comes from or what was done to it,
// not what it is.
var (
	prefixes = []string{"gps", "gnss", "imu", "ins", "can", "vehicle", "veh", "car", "ego", "ekf", "obd", "meas", "sensor", "raw", "filtered", "fzg", "rtk", "device"}
	suffixes = []string{"filtered", "filt", "raw", "sensor", "signal", "gps", "gnss", "imu", "can", "corrected", "corr", "meas", "gefiltert", "0to1", "value", "actual"}
)

var byName = func() map[string]Guess {
	out := map[string]Guess{}
	for _, k := range roles {
		for _, s := range strings.Fields(names[k.role]) {
			g := Guess{Role: k.role}
			bare := strings.TrimLeft(s, "-?~")
			marks := s[:len(s)-len(bare)]
			g.Mirror = strings.Contains(marks, "-")
			g.Weak = strings.Contains(marks, "?")
			g.Frame = strings.Contains(marks, "~")
			if before, twice := out[bare]; twice {
				panic("ingest: " + bare + " is both " + string(before.Role) + " and " + string(k.role))
			}
			out[bare] = g
		}
	}
	// Wheels: a word for the wheel or its speed, and a corner.
	corners := []struct {
		role  signal.Role
		names string
	}{
		{signal.WheelSpeedFL, "fl lf vl frontleft leftfront vornelinks vornlinks"},
		{signal.WheelSpeedFR, "fr rf vr frontright rightfront vornerechts vornrechts"},
		{signal.WheelSpeedRL, "rl lr hl rearleft leftrear hintenlinks"},
		{signal.WheelSpeedRR, "rr hr rearright rightrear hintenrechts"},
	}
	words := strings.Fields("wheelspeed wheelspd wheel whlspd whl ws vwheel speedwheel speed v radgeschwindigkeit raddrehzahl rad vrad wheelvelocity wheelrpm drehzahlrad nrad nwheel")
	for _, c := range corners {
		for _, corner := range strings.Fields(c.names) {
			for _, w := range words {
				out[w+corner] = Guess{Role: c.role}
				out[corner+w] = Guess{Role: c.role}
			}
			for _, w := range []string{"wheelspeed", "wheelvelocity", "wheel"} {
				if rest, ok := strings.CutPrefix(w, "wheel"); ok && rest != "" {
					out["wheel"+corner+rest] = Guess{Role: c.role}
				}
			}
		}
	}
	return out
}()

// GuessRole guesses a column's role from its name, the unit taken off.
func GuessRole(name string) Guess {
	key := Plain(name)
	if g, ok := byName[key]; ok {
		return g
	}
	for _, p := range prefixes {
		if rest, ok := strings.CutPrefix(key, p); ok {
			if g, ok := byName[rest]; ok {
				return g
			}
		}
	}
	for _, s := range suffixes {
		rest, ok := strings.CutSuffix(key, s)
		if !ok {
			continue
		}
		if g, ok := byName[rest]; ok {
			return g
		}
		for _, p := range prefixes {
			if rest, ok := strings.CutPrefix(rest, p); ok {
				if g, ok := byName[rest]; ok {
					return g
				}
			}
		}
	}
	return Guess{}
}

// Plain writes a name in lower case with nothing but letters and digits,
// umlauts written out: "Länge (geogr.)" is "laengegeogr".
func Plain(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		case r == 'ä':
			b.WriteString("ae")
		case r == 'ö':
			b.WriteString("oe")
		case r == 'ü':
			b.WriteString("ue")
		case r == 'ß':
			b.WriteString("ss")
		case r == 'φ':
			b.WriteString("phi")
		case r == 'ψ':
			b.WriteString("psi")
		case r == 'θ':
			b.WriteString("theta")
		case r == 'β':
			b.WriteString("beta")
		}
	}
	return b.String()
}

// SplitUnit takes the unit off a column's name: in brackets behind it
// ("v [km/h]", "Geschwindigkeit (km/h)"), after a stroke or "in" ("v / km/h",
// "v in km/h"), or as its last word ("speed_kmh"). What stands in square
// brackets is always a unit, even one that is not known; in round ones only if
// it is known or has a stroke, a degree sign, a power or a per cent sign in it, since
// remarks stand there too. The unit is as the file has it; empty where the name
// has none.
func SplitUnit(name string) (stem, stated string) {
	name = strings.TrimSpace(name)
	for _, pair := range []string{"[]", "{}", "<>", "()"} {
		open := strings.LastIndexByte(name, pair[0])
		if open < 0 || !strings.HasSuffix(name, pair[1:]) {
			continue
		}
		if pair == "()" { // "(m/s²)/(rad)" has brackets within the unit
			depth := 0
			for i := len(name) - 1; i >= 0; i-- {
				if name[i] == ')' {
					depth++
				} else if name[i] == '(' {
					if depth--; depth == 0 {
						open = i
						break
					}
				}
			}
		}
		inside := strings.TrimSpace(name[open+1 : len(name)-1])
		before := strings.TrimSpace(name[:open])
		if pair == "()" && !IsDatePattern(inside) {
			if _, ok := unit.Known(inside); !ok && !strings.ContainsAny(inside, "/°^²%") {
				continue
			}
		}
		return before, inside
	}
	for _, sep := range []string{" / ", " in "} {
		if i := strings.Index(name, sep); i > 0 {
			after := strings.TrimSpace(name[i+len(sep):])
			if _, ok := unit.Known(after); ok {
				return strings.TrimSpace(name[:i]), after
			}
		}
	}
	if before, ok := strings.CutSuffix(name, "_0to1"); ok && before != "" {
		return before, "1"
	}
	stem, u, ok := unit.SplitName(name)
	if !ok {
		return name, ""
	}
	// "temp_min" is a minimum, not minutes; "pos_in", "sig_day" are no units.
	switch u.Key() {
	case "min", "in", "day", "h":
		if !IsTimeName(stem) || u.Dimension() != unit.Time {
			return name, ""
		}
	}
	return stem, name[len(stem)+1:]
}

// timeNames are the spellings that time columns go by; own list.
var timeNames = func() map[string]bool {
	out := map[string]bool{}
	for _, s := range strings.Fields("t time zeit timestamp ts timestamps stamp zeitstempel utc utctime gpstime gnsstime utcunix unix unixtime unixtimestamp epoch posixtime " +
		"datetime dateandtime clock uhrzeit timeofday tod elapsed elapsedtime timeelapsed timediff dt laptime runtime logtime messzeit zeitachse timeaxis " +
		"tow gpstow timeofweek gpstimeofweek itow towms seconds secs sec sekunden boottime cartime rostime systemtime systime hosttime pctime recordtime localtime " +
		"zulu mst mez utcdatetime rectime abstime relativetime reltime absolutetime sampletime gpsutc timeutc utctimestamp hhmmss utcclock date datum day tag utcdate gpsdate week gpsweek weeknumber wn wnc") {
		out[s] = true
	}
	return out
}()

// IsTimeName tells whether a column of that name, the unit taken off, is one
// that states time, date or week.
func IsTimeName(name string) bool { return timeNames[Plain(name)] }
