package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"slices"
	"strings"
	"time"

	"example.org/bookend/app/sight"
	"example.org/bookend/fault"
	"example.org/bookend/programme/runlog"
)

// mostBlob is how large a recorded voice or a picture may be: ten minutes of
// speech, or one photograph. Own choice.
const mostBlob = 16 << 20

// attach keeps a voice or a picture under the SHA-256 that the address names.
func (f *face) attach(w http.ResponseWriter, r *http.Request) {
	if _, err := f.who(r, sight.RunLog); err != nil {
		http.Error(w, err.Error(), refused(err))
		return
	}
	p, err := f.find(r.Context(), r.PathValue("programme"))
	if err != nil {
		http.NotFound(w, r)
		return
	}
	sum, err := p.Folder.Attach(r.Context(), http.MaxBytesReader(w, r.Body, mostBlob))
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		http.Error(w, "A voice or a picture has at most 16 MiB.", http.StatusRequestEntityTooLarge)
	case err != nil:
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
	case sum != r.PathValue("sum"):
		http.Error(w, "The bytes have another SHA-256: "+sum, http.StatusConflict)
	default:
		w.WriteHeader(http.StatusNoContent)
	}
}

// heard are the kinds of attachment that a browser is given to play or to show, by
// what their first bytes say; under the name that a recorded voice goes by. Anything
// else is handed out as a file: a page of somebody's is never run here.
var heard = map[string]string{
	"video/webm": "audio/webm", "application/ogg": "audio/ogg", "video/mp4": "audio/mp4", "audio/mpeg": "audio/mpeg", "audio/wave": "audio/wav",
	"image/png": "image/png", "image/jpeg": "image/jpeg", "image/webp": "image/webp",
}

// policyBlob is that of a voice or a picture by itself.
const policyBlob = "default-src 'none'; sandbox"

// atTrack opens the programme that an address of the day names, for somebody who may
// see its run log.
func (f *face) atTrack(r *http.Request) (p Programme, s *seen, guest Guest, err error) {
	if p, s, err = f.opened(r); err == nil {
		guest, err = f.who(r, sight.RunLog)
	}
	return p, s, guest, err
}

// hear gives a voice or a picture to whoever may see an entry that names it.
func (f *face) hear(w http.ResponseWriter, r *http.Request) error {
	p, s, guest, err := f.atTrack(r)
	if err != nil {
		return err
	}
	sum := r.PathValue("sum")
	seen, err := sight.RunLogOf(guest.Role, guest.Name, s.state.Day)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(seen, func(e sight.Entry) bool { v := attachedTo(e.Body); return v.Voice == sum || v.Picture == sum }) {
		return fault.New(fault.NotFound, "no entry that you may see names the voice or picture %.12s", sum)
	}
	src, err := p.Folder.Store.Attachment(r.Context(), sum)
	if err != nil {
		return err
	}
	defer src.Close() //nolint:errcheck // opened for reading alone
	b, err := io.ReadAll(io.LimitReader(src, mostBlob))
	if err != nil {
		return fault.New(fault.Internal, "reading what is attached: %w", err)
	}
	said, _, _ := mime.ParseMediaType(http.DetectContentType(b))
	h := w.Header()
	h.Set("Content-Security-Policy", policyBlob)
	if kind, ok := heard[said]; ok {
		h.Set("Content-Type", kind)
	} else {
		h.Set("Content-Type", "application/octet-stream")
		h.Set("Content-Disposition", "attachment")
	}
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(b))
	return nil
}

// attachments is what an entry has attached: SHA-256, each may be empty.
type attachments struct {
	Voice   string `json:"voice"`
	Picture string `json:"picture"`
}

func attachedTo(body []byte) attachments {
	var a attachments
	_ = json.Unmarshal(body, &a) // an entry of another form has nothing attached
	return a
}

// said is a remark beside a run, in writing, by voice or as a picture.
type said struct {
	Text, Who, When string
	Voice, Picture  string // addresses
}

// remarks gives what was said of a run, and of its stint as a whole.
func (s *seen) remarks(p Programme, test, stint, run string, clock func(ns int64) string) []said {
	var out []said
	for _, l := range s.state.Day.Entries {
		if l.Entry.Kind != runlog.Remark {
			continue
		}
		var b struct {
			attachments
			Test  string `json:"test"`
			Stint string `json:"stint"`
			Run   string `json:"run"`
			Text  string `json:"text"`
		}
		if json.Unmarshal(l.Entry.Body, &b) != nil || b.Test != test || b.Stint != stint || b.Run != "" && b.Run != run {
			continue
		}
		out = append(out, said{b.Text, l.Entry.Author, clock(l.When), p.blobTo(b.Voice), p.blobTo(b.Picture)})
	}
	return out
}

// blobTo gives the address of a voice or a picture; empty for none.
func (p Programme) blobTo(sum string) string {
	if sum == "" {
		return ""
	}
	return p.base() + "/day/blobs/" + sum
}

// mayTakeBack tells whether somebody may put something in the place of an entry, or
// take it back: whoever made it, and those who answer for the programme.
func mayTakeBack(g Guest, author string) bool { return writes(g.Role) || g.Name == author }

// backOut takes an entry of the run log back, and goes back to the day.
func (f *face) backOut(w http.ResponseWriter, r *http.Request) error {
	p, s, guest, err := f.atTrack(r)
	if err != nil {
		return err
	}
	id := r.PathValue("id")
	for _, l := range s.state.Day.Entries {
		if l.Entry.ID == id && !mayTakeBack(guest, l.Entry.Author) {
			return forbidden("take back what others entered")
		}
	}
	if err := p.Folder.Withdraw(r.Context(), id); err != nil {
		return err
	}
	http.Redirect(w, r, local(strings.TrimSpace(r.FormValue("back"))), http.StatusSeeOther)
	return nil
}
