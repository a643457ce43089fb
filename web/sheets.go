package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"html/template"
	"io/fs"
	"maps"
	"mime"
	"net/http"
	"path"
	"slices"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/svg"
	"example.org/bookend/report"
)

// sheets is what pages are made of: templates, and the files that they ask for.
type sheets struct {
	pages map[string]*template.Template
	files map[string]file
	sum   string // of all files: part of their addresses, so that they may be kept for ever
}

type file struct {
	kind         string
	plain, small []byte // as it is, and compressed; small is nil where that gains nothing
}

func newSheets() (*sheets, error) {
	s := &sheets{pages: map[string]*template.Template{}, files: map[string]file{}}
	all := fontFiles()
	err := fs.WalkDir(static, "static", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := static.ReadFile(p)
		all[path.Base(p)] = b
		return err
	})
	if err != nil {
		return nil, fault.New(fault.Internal, "reading the face's own files: %w", err)
	}
	all["bookend.css"] = append([]byte(faces()+svg.CSS()+hues()), all["bookend.css"]...)
	h := sha256.New()
	for _, name := range slices.Sorted(maps.Keys(all)) {
		b := all[name]
		h.Write([]byte(name))
		h.Write(b)
		f := file{kind: mime.TypeByExtension(path.Ext(name)), plain: b}
		if name == fontsLicence {
			f.kind = "text/plain; charset=utf-8"
		}
		if path.Ext(name) == ".woff2" {
			f.kind = "font/woff2"
		} else {
			var z bytes.Buffer
			w, _ := gzip.NewWriterLevel(&z, gzip.BestCompression) // the level is a constant of the package
			if _, err := w.Write(b); err != nil {
				return nil, fault.New(fault.Internal, "compressing %s: %w", name, err)
			}
			if err := w.Close(); err != nil {
				return nil, fault.New(fault.Internal, "compressing %s: %w", name, err)
			}
			f.small = z.Bytes()
		}
		s.files[name] = f
	}
	s.sum = hex.EncodeToString(h.Sum(nil))[:16]
	list, err := fs.Glob(pages, "page/*.tmpl")
	if err != nil {
		return nil, fault.New(fault.Internal, "reading the face's own pages: %w", err)
	}
	frame := template.New("").Funcs(template.FuncMap{
		"asset":     func(name string) string { return "/static/" + s.sum + "/" + name },
		"word":      func(v figure.Verdict) string { w, _ := v.Words(); return w },
		"plainWord": func(word string) string { return strings.ReplaceAll(word, "_", " ") },
		"isCode":    func(t report.Text) bool { return len(t) > 0 && t[0].As == report.Code },
		"codeOf":    func(t report.Text) string { return t[0].Text },
		"codeClass": func(string) string { return "" },
		"marker":    func(string) template.HTML { return "" },
		"to":        func(string) string { return "" },
		"strip":     func(*figure.VerdictStrip) (template.HTML, error) { return "", nil },
		"figure":    func(*report.Drawn) (pictures, error) { return pictures{}, nil },
	})
	for _, p := range list {
		if path.Base(p) == "frame.tmpl" || path.Base(p) == "parts.tmpl" {
			continue
		}
		t, err := frame.Clone()
		if err == nil {
			t, err = t.ParseFS(pages, "page/frame.tmpl", "page/parts.tmpl", p)
		}
		if err != nil {
			return nil, fault.New(fault.Internal, "reading the page %s: %w", path.Base(p), err)
		}
		s.pages[strings.TrimSuffix(path.Base(p), ".tmpl")] = t
	}
	return s, nil
}

// static answers with one of the face's own files, which its address names by
// content.
func (s *sheets) static(w http.ResponseWriter, r *http.Request) {
	f, ok := s.files[r.PathValue("file")]
	if !ok || r.PathValue("sum") != s.sum {
		http.NotFound(w, r)
		return
	}
	h := w.Header()
	h.Set("Content-Type", f.kind)
	h.Set("Cache-Control", "public, max-age=31536000, immutable")
	b := f.plain
	if f.small != nil {
		h.Set("Vary", "Accept-Encoding")
		if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
			h.Set("Content-Encoding", "gzip")
			b = f.small
		}
	}
	_, _ = w.Write(b) // whoever asked may be gone
}

// faces gives the @font-face rules of the fonts that lie beside the style sheet.
func faces() string {
	var b strings.Builder
	b.WriteString("/* fonts: SIL Open Font License 1.1, " + fontsLicence + " */\n")
	for _, f := range fonts.Faces() {
		style := "normal"
		if f.Italic() {
			style = "italic"
		}
		b.WriteString(`@font-face{font-family:"` + f.Family() + `";font-style:` + style + `;font-weight:` + f.Weight() +
			`;font-display:swap;src:url(` + f.Name() + `.woff2) format("woff2")}` + "\n")
	}
	return b.String()
}

// tones are the figures' tones by the variables that the themes set.
var tones = []struct {
	tone     figure.Tone
	variable string
}{
	{figure.Ink, "ink"}, {figure.Soft, "soft"}, {figure.Rule, "rule"}, {figure.Red, "broken"}, {figure.Indigo, "c1"}, {figure.Teal, "c2"},
	{figure.Ochre, "c3"}, {figure.Wine, "c4"}, {figure.Blue, "c5"}, {figure.Olive, "c6"},
}

// hues gives the rules that print figures in the theme's own tones.
func hues() string {
	var b strings.Builder
	for _, t := range tones {
		for _, what := range []string{"fill", "stroke"} {
			b.WriteString(`svg [` + what + `="` + t.tone.Hex() + `"]{` + what + `:var(--` + t.variable + ")}\n")
		}
	}
	b.WriteString(`svg [fill="#fff"],svg [fill="#ffffff"],svg [fill="` + figure.Paper.Hex() + `"]{fill:var(--paper)}` + "\n")
	b.WriteString(`svg text[stroke="#ffffff"],svg text[stroke="` + figure.Paper.Hex() + `"]{stroke:var(--paper)}` + "\n") // what lets labels stand on lines
	return b.String()
}
