package orders

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"net/url"
	"path/filepath"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/app/groundbook"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// mostTable bounds a table that is brought in, in bytes: as every form, less what
// stands around it.
const mostTable = 1 << 20

// mostName bounds its name, in bytes; a choice.
const mostName = 100

// BringIn keeps a table of an earlier programme with the programme, under its hash,
// and leads back to the search with it chosen. What cannot be read is not kept; what
// was typed stays.
func BringIn(ctx context.Context, a Ask, r *http.Request) (*Leaf, error) {
	if err := r.ParseMultipartForm(mostTable); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			_, l, err := Begin(ctx, a, url.Values{})
			if err != nil {
				return nil, err
			}
			l.Status, l.Title, l.Below = http.StatusRequestEntityTooLarge, "The table is larger than 1 MiB", "Bring in the control stints alone, or name the file on the command line: bookend order --history FILE."
			return l, nil
		}
		return nil, fault.New(fault.Invalid, "reading the form: %w", err)
	}
	asked, err := url.ParseQuery(r.PostForm.Get("asked"))
	if err != nil {
		return nil, fault.New(fault.Invalid, "how the order was asked for cannot be read")
	}
	asked = Kept(asked)
	name, text := strings.TrimSpace(r.PostForm.Get("name")), r.PostForm.Get("text")
	data := []byte(text)
	if file, head, err := r.FormFile("table"); err == nil {
		defer func() { _ = file.Close() }() // read whole or refused
		if data, err = io.ReadAll(file); err != nil {
			return nil, fault.New(fault.Invalid, "reading the file %s: %w", head.Filename, err)
		}
		if name == "" {
			name = filepath.Base(head.Filename)
		}
	}
	name = strings.Join(strings.Fields(name), " ")
	if name == "" {
		name = "table.csv"
	}
	if len(name) > mostName {
		name = strings.ToValidUTF8(name[:mostName], "")
	}
	as := r.PostForm.Get("as")
	p, l, err := Begin(ctx, a, asked)
	if err != nil {
		return nil, err
	}
	p.Bring.Name, p.Bring.Text = name, text
	if err := readable(as, name, data, asked.Get("control")); err != nil {
		return l, l.Refused(p.Form, err)
	}
	sum, err := a.Folder.Attach(ctx, bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	for _, field := range []string{"history", "earlier"} {
		asked.Del(field)
	}
	asked.Set(as, Named(name, sum))
	return &Leaf{Go: a.Base + "/order?" + asked.Encode()}, nil
}

// readable tells whether a table is what it is said to be.
func readable(as, name string, data []byte, control string) error {
	switch {
	case len(bytes.TrimSpace(data)) == 0:
		return fault.New(fault.Invalid, "there is no table").WithHint("choose a file, or paste its lines")
	case as == "history":
		h := &groundbook.History{Name: name, Data: data}
		_, _, err := h.Record("", "")
		return err
	case as == "earlier":
		q := app.CompareRequest{Name: name, Data: data, Better: programme.Higher, Control: control}
		if q.Control == "" {
			return fault.New(fault.Invalid, "no control is named").WithHint("name it in the form, then bring the table in")
		}
		_, err := app.CompareTable(q)
		return err
	}
	return fault.New(fault.Invalid, "it is not said what the table holds").WithHint("control stints of several programmes, or one whole programme")
}
