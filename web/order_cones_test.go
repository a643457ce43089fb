package web_test

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// The sheet of cones has the lengths that ISO 3888-2 asks of an obstacle avoidance
// course, 61 m in all, and the entry lane of 1.1 times the vehicle's width and 0.25 m
// (docs/sources has the standard; lengths from memory): for 2 m, 2.45 m.
func TestConesPage(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	status, body := s.get("/p/tarn/order/cones")
	if status != http.StatusOK {
		t.Fatalf("the page answers %d", status)
	}
	wants(t, "the page", body, "not laid out yet", "Width of the vehicle")
	ask := url.Values{"layout": {"iso-3888-2"}, "width": {"2,0"}, "exit": {"at_least_3_m"}, "apart": {"5"}, "base": {"0.3"}, "markers": {"7"}, "spacing": {"18"}}
	status, body = s.get("/p/tarn/order/cones?" + ask.Encode())
	if status != http.StatusOK {
		t.Fatalf("the sheet answers %d", status)
	}
	wants(t, "the sheet", body, "over 61 m, for a vehicle 2.00 m wide", ">2.45<", "<svg", "Evasive tests can injure", "cones.csv?", "Print the sheet")
	if strings.Contains(body, "cones.gpx") {
		t.Error("waypoints are offered without a place on Earth")
	}
	ask.Set("at", "57.1, -4.5")
	if status, body = s.get("/p/tarn/order/cones?" + ask.Encode()); status != http.StatusUnprocessableEntity {
		t.Errorf("a place without a heading answers %d", status)
	}
	wants(t, "the sheet", body, "which way the axis looks", `value="57.1, -4.5"`, `aria-invalid="true"`)
	ask.Set("heading", "92")
	_, body = s.get("/p/tarn/order/cones?" + ask.Encode())
	wants(t, "the sheet", body, "cones.gpx?", "Latitude")
	for file, says := range map[string]string{"cones.csv": "number,of,side,station_m,offset_m,latitude_deg", "cones.gpx": "<wpt lat=", "drawing.svg": "<svg"} {
		status, body := s.get("/p/tarn/order/cones/" + file + "?" + ask.Encode())
		if status != http.StatusOK || !strings.Contains(body, says) {
			t.Errorf("%s answers %d: %.80s", file, status, body)
		}
	}
	if status, _ = s.get("/p/tarn/order/cones/passwd?" + ask.Encode()); status != http.StatusNotFound {
		t.Errorf("another file answers %d", status)
	}
	if status, body := s.get("/p/tarn/order/cones/cones.csv?layout=slalom&width=wide"); status != http.StatusUnprocessableEntity || !strings.Contains(body, `id="o-width-wrong"`) {
		t.Errorf("a file of what cannot be laid out answers %d: %.80s", status, body)
	}
	for _, c := range []struct{ name, value, says string }{{"width", "", "width is not told"}, {"width", "wide", "cannot be read"}, {"width", "40", "width"}, {"layout", "figure-8", "is no lay-out"}, {"markers", "1000", "cannot be read"}, {"exit", "open", "exit lane"}, {"at", "north", "cannot be read"}} {
		q := url.Values{"layout": {"iso-3888-2"}, "width": {"2"}}
		q.Set(c.name, c.value)
		status, body := s.get("/p/tarn/order/cones?" + q.Encode())
		if status != http.StatusUnprocessableEntity {
			t.Errorf("%s %q answers %d", c.name, c.value, status)
		}
		wants(t, c.name, body, c.says, "Lay out")
	}
}

// A table of an earlier programme is brought in, chosen, and said to be what the
// scatter is from; what cannot be read is not kept, and stays as it was typed.
func TestEarlierTable(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	asked := url.Values{"control": {"K"}, "candidates": {"P:2, W:2"}, "controls": {"3"}, "wanted": {"2"}}.Encode()
	// Three programmes of three control stints each.
	history := "programme,position,value\na,1,31.9\na,4,32.3\na,7,32.5\nb,1,30.0\nb,4,30.1\nb,7,30.4\nc,1,33.1\nc,4,33.0\nc,7,33.6\n"
	status, body := s.post("/p/tarn/order/table", url.Values{"asked": {asked}, "as": {"history"}, "name": {"controls.csv"}, "text": {history}})
	if status != http.StatusOK {
		t.Fatalf("bringing it in answers %d: %s", status, body)
	}
	wants(t, "the page", body, "controls.csv", "3 control sequences", "degrees of freedom", "index points")
	status, body = s.post("/p/tarn/order/table", url.Values{"asked": {asked}, "as": {"earlier"}, "name": {"stops.csv"}, "text": {stops}})
	if status != http.StatusOK {
		t.Fatalf("a whole programme answers %d", status)
	}
	wants(t, "the page", body, "the earlier table stops.csv")
	for _, c := range []struct{ as, text, says string }{
		{"history", "", "There is no table"}, {"history", "a,b\n1,2\n", "column"}, {"earlier", "programme;;\n", ""}, {"", history, "what the table holds"},
	} {
		status, body := s.post("/p/tarn/order/table", url.Values{"asked": {asked}, "as": {c.as}, "name": {"<b>bad</b>.csv"}, "text": {c.text}})
		if status != http.StatusUnprocessableEntity && status != http.StatusNotFound {
			t.Errorf("%s %.20q answers %d", c.as, c.text, status)
		}
		wants(t, "the page", body, c.says, "&lt;b&gt;bad&lt;/b&gt;.csv")
	}
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	file, err := form.CreateFormFile("table", "../../controls.csv")
	if err != nil {
		t.Fatal(err)
	}
	_, _ = file.Write([]byte(history)) // into memory
	for k, v := range map[string]string{"asked": asked, "as": "history", "name": "", "text": ""} {
		if err := form.WriteField(k, v); err != nil {
			t.Fatal(err)
		}
	}
	_ = form.Close() // into memory
	send := func(data []byte) (int, string) {
		r, err := http.NewRequest("POST", s.url+"/p/tarn/order/table", bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", form.FormDataContentType())
		return s.do(r)
	}
	status, body = send(b.Bytes())
	if status != http.StatusOK || strings.Contains(body, "../") {
		t.Errorf("a file answers %d", status)
	}
	wants(t, "the page", body, "controls.csv", "3 control sequences")
	status, body = send(bytes.Replace(b.Bytes(), []byte(history), bytes.Repeat([]byte("x,1,2\n"), 1<<18), 1))
	if status != http.StatusRequestEntityTooLarge {
		t.Errorf("a file of more than 1 MiB answers %d", status)
	}
	wants(t, "the page", body, "larger than 1 MiB", "Search for the order")
	for _, word := range []string{"table ../../etc x", "table " + strings.Repeat("0", 64) + " none.csv", "record: nothing"} {
		status, body := s.get("/p/tarn/order?" + asked + "&history=" + url.QueryEscape(word))
		if status < 400 || status >= 500 || strings.Contains(body, "root:") {
			t.Errorf("%q answers %d", word, status)
		}
	}
}

// Sizes are held against load and speed as on the command line: load index 91 is
// 615 kg and V ends at 240 km/h (ETRTO tables, as package tyre has them).
func TestLoadAndSpeed(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	ask := url.Values{"control": {"K"}, "candidates": {"P:2, W:2"}, "controls": {"3"}, "speed": {"130"}, "sizes": {"205/55 R16 91V"}, "axles": {"front: 900 kg: 230 kPa\nrear: 1000 kg: 240 kPa"}}
	_, body := s.get("/p/tarn/order?" + ask.Encode())
	wants(t, "the page", body, "Load and speed, at 130 km/h", "240 km/h", ">615<", ">450<", ">500<")
	for _, c := range []struct{ name, value, says string }{
		{"axles", "front: 1500 kg: 230 kPa", "over its limit"}, {"axles", "front", "name, load and cold pressure"}, {"axles", "front: 3 m", "is no mass"}, {"sizes", "wide", "sizes as marked"}, {"sizes", "", "no size is named"},
		{"speed", "260", "over its limit"}, {"speed", "", "how fast"},
	} {
		q := url.Values{}
		for k, v := range ask {
			q[k] = v
		}
		q.Set(c.name, c.value)
		status, body := s.get("/p/tarn/order?" + q.Encode())
		if status != http.StatusUnprocessableEntity {
			t.Errorf("%s %q answers %d", c.name, c.value, status)
		}
		wants(t, c.name, strings.ToLower(body), c.says, "search for the order")
	}
}
