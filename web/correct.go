package web

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/app/day"
	"example.org/bookend/app/sight"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
	"example.org/bookend/unit"
)

// dayClash is entries that say different things of one matter: which one counts, and
// where each is taken back.
type dayClash struct {
	Says    string
	Entries []dayEntry
}

// mayCorrect tells whether somebody may put a corrected entry in the place of one: who
// may take it back, and sees the whole of it. Of an entry that is shown in part, a
// correction would drop what is hidden.
func mayCorrect(g Guest, seen sight.Entry, v *day.View) bool {
	return mayTakeBack(g, seen.Author) && slices.ContainsFunc(v.Entries, func(l day.Logged) bool {
		return l.Entry.ID == seen.ID && bytes.Equal(l.Entry.Body, seen.Body)
	})
}

// correctable gives the entry that somebody may correct, as it stands.
func (s *seen) correctable(g Guest, id string) (programme.Entry, error) {
	seen, err := sight.RunLogOf(g.Role, g.Name, s.state.Day)
	if err != nil {
		return programme.Entry{}, err
	}
	i := slices.IndexFunc(seen, func(e sight.Entry) bool { return e.ID == id })
	switch {
	case i < 0:
		return programme.Entry{}, fault.New(fault.NotFound, "no entry that you may see is %q, or it was corrected or taken back meanwhile", id).WithHint("look at the day’s page: the entry that stands in its place is corrected there")
	case !mayCorrect(g, seen[i], s.state.Day):
		return programme.Entry{}, forbidden("correct what others entered")
	}
	return programme.Entry{ID: id, Kind: seen[i].Kind, Version: seen[i].Version, Body: seen[i].Body, Author: seen[i].Author}, nil
}

// correction makes the form of an entry with what it says, for a page without a script.
func (f *face) correction(p Programme, e programme.Entry) (dayForm, error) {
	form := f.form(p, e.Kind, nil)
	form.Do, form.To = "Enter the correction", p.base()+"/day/correct/"+e.ID
	form.Voices = false
	form.About = "Change a field, or several. What stood before is kept, and no longer counts"
	form.Fields = slices.DeleteFunc(form.Fields, func(x dayField) bool { return slices.Contains(dayHidden, x.Key) })
	texts, err := typedBefore(e)
	if err != nil {
		return form, err
	}
	for i := range form.Fields {
		x := &form.Fields[i]
		x.ID, x.Value = "correct-"+x.Key, texts[x.Key]
	}
	return form, nil
}

// typedBefore gives the fields of an entry as somebody would type them: quantities in
// the unit that people use, without it.
func typedBefore(e programme.Entry) (map[string]string, error) {
	k, err := runlog.KindAt(e.Kind, e.Version)
	if err != nil {
		return nil, err
	}
	body, err := k.Read(e.Body)
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	for _, x := range k.Fields {
		shown := func(v float64) string {
			if x.Shown != "" {
				if c, err := unit.Convert(v, unit.MustParse(x.Unit), unit.MustParse(x.Shown)); err == nil {
					v = c
				}
			}
			// Twelve digits, as the page's script has it: the change of unit leaves none behind.
			if short, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 12, 64), 64); err == nil {
				v = short
			}
			return unit.Shortest(v)
		}
		switch v := body[x.Key].(type) {
		case string:
			out[x.Key] = v
		case float64:
			out[x.Key] = shown(v)
		case []float64:
			var all []string
			for _, n := range v {
				all = append(all, shown(n))
			}
			out[x.Key] = strings.Join(all, " ")
		case bool:
			out[x.Key] = "yes"
		}
	}
	return out, nil
}

// correct puts a corrected entry in the place of one, typed into a page without a
// script. Fields that say what they said stay as they are, to the last digit.
func (f *face) correct(w http.ResponseWriter, r *http.Request) error {
	p, s, guest, err := f.atTrack(r)
	if err != nil {
		return err
	}
	old, err := s.correctable(guest, r.PathValue("id"))
	if err != nil {
		return err
	}
	if err := readForm(r); err != nil {
		return err
	}
	was, err := typedBefore(old)
	if err != nil {
		return err
	}
	k, err := runlog.KindAt(old.Kind, old.Version)
	if err != nil {
		return err
	}
	changed := map[string]any{}
	for _, x := range k.Fields {
		if typed := strings.TrimSpace(r.PostForm.Get(x.Key)); !slices.Contains(dayHidden, x.Key) && typed != was[x.Key] {
			if changed[x.Key], err = fromForm(x, typed); err != nil {
				return err
			}
		}
	}
	if len(changed) == 0 {
		return fault.New(fault.Invalid, "nothing is changed").WithHint("change a field of the entry, or leave it as it is")
	}
	if _, err := p.Folder.CorrectEntry(r.Context(), old.ID, changed); err != nil {
		return err
	}
	var at struct {
		Test string `json:"test"`
	}
	if err := json.Unmarshal(old.Body, &at); err != nil {
		return fault.New(fault.Internal, "reading entry %s: %w", old.ID, err)
	}
	http.Redirect(w, r, p.base()+"/day?test="+url.QueryEscape(at.Test), http.StatusSeeOther)
	return nil
}

// fromForm gives what somebody typed into a form's field, in the unit that it shows;
// nil for nothing.
func fromForm(x runlog.Field, typed string) (any, error) {
	if typed == "" || typed == "-" {
		return nil, nil
	}
	if x.Type == runlog.Number || x.Type == runlog.Numbers {
		typed = strings.NewReplacer(",", ".", "\u2212", "-").Replace(typed)
		if x.Shown != "" {
			typed += " " + x.Shown
		}
	}
	return x.FromText(typed)
}

// before gives what entries said that others stand in the place of, and both sides of
// what does not fit together; nothing is read where there is neither.
func before(ctx context.Context, p Programme, v *day.View) (map[string]programme.Entry, error) {
	if len(v.Clashes) == 0 && !slices.ContainsFunc(v.Entries, func(l day.Logged) bool { return l.Entry.Supersedes != "" }) {
		return nil, nil
	}
	all, err := p.Folder.Store.Entries(ctx, 0)
	if err != nil {
		return nil, err
	}
	out := make(map[string]programme.Entry, len(all))
	for _, e := range all {
		out[e.ID] = e
	}
	return out, nil
}

// clashes shows entries that say different things of one matter.
func clashes(p Programme, v *day.View, all map[string]programme.Entry, zone *time.Location) []dayClash {
	var out []dayClash
	for _, c := range v.Clashes {
		d := dayClash{Says: "Two entries say different things of " + c.What + "; the first counts until one is taken back."}
		k, _ := runlog.KindOf(c.Kind)
		if _, corrected := c.Corrected(); corrected {
			d.Says = "The same " + k.Title + " was corrected twice; the first correction counts until one is taken back."
		}
		for i, id := range append([]string{c.Stands}, c.Others...) {
			e, ok := all[id]
			if !ok {
				continue
			}
			x := dayEntry{ID: id, Title: k.Title, Says: app.Summary(e), When: time.Unix(0, e.DeviceTime.UnixNS).In(zone).Format("15:04"), Who: e.Author, Device: e.Device, Back: p.base() + "/day/back/" + id}
			x.Counts = i == 0
			d.Entries = append(d.Entries, x)
		}
		out = append(out, d)
	}
	return out
}
