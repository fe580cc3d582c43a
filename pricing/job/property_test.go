package job_test

import (
	"slices"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/schedule"
	"wainscot/pricing/job"
)

// ledger is what a foreman with a pencil would know of a job: the witness that
// the board is held against.
type ledger struct {
	state    map[string]job.StageState
	passed   map[string]bool // holds of the catalogue, by their latest test
	papers   map[string]bool
	signed   bool                      // the gas certificate is of after the furniture was last taken up again
	standing map[int]catalogue.Caution // holds put on, by number
	at       map[int]string            // the stage of each
	here     bool
	snags    map[int]string // open ones: "", "gas" or "promised"
	shown    map[string]bool
	seats    bool
	cleared  bool
	hob      bool
	pipe     bool // its batch
	ticket   bool // of the finished van
	handed   bool
}

// mayBegin as the catalogue of the small workshop says it, written down by
// hand.
func (l *ledger) mayBegin(stage string) bool {
	over := func(codes ...string) bool {
		return !slices.ContainsFunc(codes, func(c string) bool { return l.state[c] != job.Done && l.state[c] != job.LeftOut })
	}
	if l.state[stage] != job.ToDo || !l.papers["letter"] || l.held(stage) || !l.here {
		return false
	}
	switch stage {
	case "wiring", "gas":
		return over("strip")
	case "furniture":
		return over("wiring", "gas", "bench") && l.passed["wired"] && l.passed["tight"]
	case "finish":
		return over("furniture") && l.papers["gas_test"] && l.signed
	}
	return true
}

func (l *ledger) held(stage string) bool {
	for n := range l.standing {
		if l.at[n] == stage {
			return true
		}
	}
	return false
}

// mayGo says whether the gate is open.
func (l *ledger) mayGo() bool {
	for _, s := range l.state {
		if s != job.Done && s != job.LeftOut {
			return false
		}
	}
	for _, open := range l.snags {
		if open != "promised" {
			return false
		}
	}
	tested := (l.passed["wired"] || l.state["wiring"] == job.LeftOut) && (l.passed["tight"] || l.state["gas"] == job.LeftOut)
	return tested && (l.signed || l.state["furniture"] == job.LeftOut) && l.here && l.papers["letter"] && l.papers["gas_test"] && len(l.standing) == 0 &&
		l.seats && l.shown["gas"] && l.shown["bed"] && l.cleared && l.hob && (l.pipe || l.state["gas"] == job.LeftOut) && l.ticket
}

var stageCodes = []string{"strip", "wiring", "gas", "bench", "furniture", "finish"}

// walk does one thing after another at random to a job, and holds each against
// the ledger.
type walk struct {
	t     *rapid.T
	p     *job.Plan
	j     job.Job
	l     *ledger
	photo int
}

// try changes the job, says whether it was changed, and sees to it that the one
// before is as it was.
func (w *walk) try(what string, do func(j *job.Job) (job.Job, document.Faults)) bool {
	before, words := encoded(w.t, &w.j), slices.Clone(w.j.Words)
	was := w.j
	next, faults := do(&was)
	if string(encoded(w.t, &w.j)) != string(before) || !slices.Equal(w.j.Words, words) {
		w.t.Fatalf("%s changed the job it was done to", what)
	}
	if len(faults) > 0 {
		return false
	}
	// Another thing done to the same job is another job, and no part of this one.
	first := encoded(w.t, &next)
	day.By, words = "ada", slices.Clone(next.Words)
	_, _ = do(&was)
	day.By = "nora"
	if string(encoded(w.t, &next)) != string(first) || !slices.Equal(words, next.Words) {
		w.t.Fatalf("%s shares its entries with what else is done to the job", what)
	}
	if other, faults := do(&was); len(faults) > 0 || string(encoded(w.t, &other)) != string(first) {
		w.t.Fatalf("%s done again to the same job comes to another: %v", what, faults)
	}
	if next.Last < w.j.Last {
		w.t.Fatalf("%s gives a number again", what)
	}
	w.j = next
	return true
}

func encoded(t *rapid.T, j *job.Job) []byte {
	text, err := j.Encode()
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// agree fails where the job and the ledger do not.
func (w *walk) agree(what string, done, may bool) {
	if done != may {
		w.t.Fatalf("%s: done %v, and by the ledger it may be: %v\n%+v", what, done, may, w.l)
	}
}

var day = job.Act{On: "2027-02-05", Today: "2027-02-05", By: "nora"}

func (w *walk) stages() map[string]func(*rapid.T) {
	stage := func(t *rapid.T) string { return rapid.SampledFrom(stageCodes).Draw(t, "stage") }
	return map[string]func(*rapid.T){
		"begin": func(t *rapid.T) {
			s := stage(t)
			done := w.try("begin", func(j *job.Job) (job.Job, document.Faults) { return j.Begin(w.p, day, s) })
			w.agree("beginning "+s, done, !w.l.handed && w.l.mayBegin(s))
			if done {
				w.moved(s, job.UnderWay)
			}
		},
		"finish": func(t *rapid.T) {
			s := stage(t)
			done := w.try("finish", func(j *job.Job) (job.Job, document.Faults) { return j.Finish(w.p, day, s) })
			w.agree("finishing "+s, done, !w.l.handed && w.l.state[s] == job.UnderWay && !w.l.held(s))
			if done {
				w.moved(s, job.Done)
			}
		},
		"leave out": func(t *rapid.T) {
			s := stage(t)
			done := w.try("leave out", func(j *job.Job) (job.Job, document.Faults) { return j.LeaveOut(w.p, day, s, "No.") })
			w.agree("leaving out "+s, done, !w.l.handed && w.l.state[s] == job.ToDo && !w.l.held(s))
			if done {
				w.moved(s, job.LeftOut)
			}
		},
		"again": func(t *rapid.T) {
			s := stage(t)
			done := w.try("again", func(j *job.Job) (job.Job, document.Faults) { return j.TakeUpAgain(w.p, day, s, "So.") })
			w.agree("again "+s, done, !w.l.handed && (w.l.state[s] == job.LeftOut || w.l.state[s] == job.Done && w.l.here))
			switch {
			case done && w.l.state[s] == job.LeftOut:
				w.moved(s, job.ToDo)
				w.untested(s)
			case done:
				w.moved(s, job.UnderWay)
				w.untested(s)
				if s == "gas" {
					w.l.papers["gas_test"] = false
				}
			}
		},
	}
}

// untested: what was tested is not there as it was.
func (w *walk) untested(stage string) {
	switch stage {
	case "wiring":
		w.l.passed["wired"] = false
	case "gas":
		w.l.passed["tight"] = false
	case "furniture":
		w.l.signed = false
	}
}

func (w *walk) moved(stage string, to job.StageState) {
	w.l.state[stage] = to
	if stage != "finish" {
		w.l.ticket = false
	}
}

func (w *walk) tests() map[string]func(*rapid.T) {
	return map[string]func(*rapid.T){
		"test": func(t *rapid.T) {
			of := rapid.SampledFrom([]string{"wired", "tight"}).Draw(t, "of")
			passed := rapid.Bool().Draw(t, "passed")
			by := rapid.SampledFrom([]*job.Signatory{nil, engineer, sparks}).Draw(t, "by")
			done := w.try("test", func(j *job.Job) (job.Job, document.Faults) {
				return j.Record(w.p, day, job.NewTest{Of: of, Signatory: by, Crew: "joiner", Passed: passed, Says: "So."})
			})
			stage := map[string]string{"wired": "wiring", "tight": "gas"}[of]
			w.agree("testing "+of, done, !w.l.handed && w.l.state[stage] == job.Done && (of == "wired" || by == engineer))
			if done {
				w.l.passed[of] = passed
			}
		},
		"paper": func(t *rapid.T) {
			code := rapid.SampledFrom([]string{"letter", "gas_test"}).Draw(t, "code")
			by := rapid.SampledFrom([]*job.Signatory{nil, engineer, sparks}).Draw(t, "by")
			again := slices.ContainsFunc(w.j.Steps, func(s job.Step) bool { return s.Stage == "gas" && s.Because != 0 && s.To == job.UnderWay })
			done := w.try("paper", func(j *job.Job) (job.Job, document.Faults) {
				return j.Keep(w.p, day, job.NewPaper{Code: code, Signatory: by, Attachment: w.photo})
			})
			gas := w.l.state["gas"]
			w.agree("keeping "+code, done, !w.l.handed && (code == "letter" || by == engineer && gas != job.ToDo && (gas != job.UnderWay || !again)))
			if done {
				w.l.papers[code] = true
				if code == "gas_test" {
					w.l.signed = true
					w.lifted(func(n int) bool { return w.l.standing[n] == catalogue.CautionGas })
				}
			}
		},
		"hold": func(t *rapid.T) {
			s := rapid.SampledFrom(stageCodes).Draw(t, "stage")
			caution := rapid.SampledFrom([]catalogue.Caution{"", catalogue.CautionGas}).Draw(t, "caution")
			done := w.try("hold", func(j *job.Job) (job.Job, document.Faults) {
				return j.PutOnHold(w.p, day, job.NewHold{Code: "rust", Stage: s, Says: "So.", Caution: caution})
			})
			w.agree("holding "+s, done, !w.l.handed && (w.l.state[s] == job.ToDo || w.l.state[s] == job.UnderWay))
			if done {
				n := w.j.Holds[len(w.j.Holds)-1].Number
				w.l.standing[n], w.l.at[n] = caution, s
			}
		},
		"lift": func(t *rapid.T) {
			if len(w.j.Holds) == 0 {
				t.Skip()
			}
			n := rapid.SampledFrom(w.j.Holds).Draw(t, "hold").Number
			caution, standing := w.l.standing[n]
			done := w.try("lift", func(j *job.Job) (job.Job, document.Faults) { return j.Lift(day, n, "So.") })
			w.agree("lifting", done, !w.l.handed && standing && caution == "")
			if done {
				w.lifted(func(k int) bool { return k == n })
			}
		},
		"lift by test": func(t *rapid.T) {
			if len(w.j.Holds) == 0 {
				t.Skip()
			}
			n := rapid.SampledFrom(w.j.Holds).Draw(t, "hold").Number
			by := rapid.SampledFrom([]*job.Signatory{nil, engineer, sparks}).Draw(t, "by")
			passed := rapid.Bool().Draw(t, "passed")
			caution, standing := w.l.standing[n]
			done := w.try("lift by test", func(j *job.Job) (job.Job, document.Faults) {
				return j.Record(w.p, day, job.NewTest{Hold: n, Signatory: by, Crew: "joiner", Passed: passed, Says: "So."})
			})
			w.agree("testing for a hold", done, !w.l.handed && standing && (caution == "" || by == engineer))
			if done && passed {
				w.lifted(func(k int) bool { return k == n })
			}
		},
	}
}

func (w *walk) lifted(is func(n int) bool) {
	for n := range w.l.standing {
		if is(n) {
			delete(w.l.standing, n)
		}
	}
}

func (w *walk) rest() map[string]func(*rapid.T) {
	condition := signed(w.photo)
	return map[string]func(*rapid.T){
		"arrive": func(*rapid.T) {
			was := w.j.Arrived != nil
			done := w.try("arrive", func(j *job.Job) (job.Job, document.Faults) { return j.Arrive(day, condition) })
			w.agree("arriving", done, !was)
			w.l.here = w.l.here || done
		},
		"go out": func(*rapid.T) {
			done := w.try("go out", func(j *job.Job) (job.Job, document.Faults) { return j.GoOut(day, "So.") })
			w.agree("going out", done, w.l.here)
			w.l.here = w.l.here && !done
		},
		"come back": func(*rapid.T) {
			out := w.j.Arrived != nil && !w.l.here && !w.l.handed
			done := w.try("come back", func(j *job.Job) (job.Job, document.Faults) { return j.ComeBack(day) })
			w.agree("coming back", done, out)
			w.l.here = w.l.here || done
		},
		"snag": func(t *rapid.T) {
			caution := rapid.SampledFrom([]catalogue.Caution{"", "", catalogue.CautionGas}).Draw(t, "caution")
			promised := rapid.SampledFrom([]string{"", "2027-02-20"}).Draw(t, "promised")
			done := w.try("snag", func(j *job.Job) (job.Job, document.Faults) {
				return j.AddSnag(w.p, day, job.NewSnag{Says: "So.", Caution: caution, PromisedBy: promised})
			})
			w.agree("a snag", done, !w.l.handed && (caution == "" || promised == ""))
			if done {
				s := string(caution)
				if promised != "" {
					s = "promised"
				}
				w.l.snags[w.j.Snags[len(w.j.Snags)-1].Number] = s
			}
		},
		"close": func(t *rapid.T) {
			if len(w.j.Snags) == 0 {
				t.Skip()
			}
			n := rapid.SampledFrom(w.j.Snags).Draw(t, "snag").Number
			_, open := w.l.snags[n]
			w.agree("closing", w.try("close", func(j *job.Job) (job.Job, document.Faults) { return j.CloseSnag(day, n, "So.") }), !w.l.handed && open)
			delete(w.l.snags, n)
		},
		"shown and said": func(t *rapid.T) {
			codes := rapid.SliceOfDistinct(rapid.SampledFrom([]string{"gas", "bed"}), func(s string) string { return s }).Draw(t, "codes")
			if len(codes) > 0 && w.try("show", func(j *job.Job) (job.Job, document.Faults) { return j.Showed(w.p, day, codes) }) {
				for _, c := range codes {
					w.l.shown[c] = true
				}
			}
			w.l.seats = w.try("seats", func(j *job.Job) (job.Job, document.Faults) {
				return j.TakeOut(w.p, day, job.NewRemoved{Feature: "seats", To: job.Waste}, "GBP", &catalogue.Catalogue{})
			}) || w.l.seats
			w.l.cleared = w.try("clear", func(j *job.Job) (job.Job, document.Faults) { return j.Clear(day, job.Paid, "") }) || w.l.cleared
			w.l.hob = w.try("hob", func(j *job.Job) (job.Job, document.Faults) {
				return j.Fit(w.p, day, job.NewSerial{Part: "hob", Stage: "gas", Kind: job.OfOne, Value: "A 17"}, known)
			}) || w.l.hob
			w.l.pipe = w.try("pipe", func(j *job.Job) (job.Job, document.Faults) {
				return j.Fit(w.p, day, job.NewSerial{Part: "pipe", Stage: "gas", Kind: job.OfBatch, Value: "P 1"}, known)
			}) || w.l.pipe
		},
		"weigh": func(*rapid.T) {
			w.l.ticket = w.try("weigh", func(j *job.Job) (job.Job, document.Faults) {
				return j.Weigh(w.p, day, job.Ticket{FrontKG: d("1300"), RearKG: d("1100"), FuelPercent: 90}, w.photo)
			}) || w.l.ticket
		},
		"hand over": func(*rapid.T) {
			open := len(w.j.Gate(w.p, day.Today)) == 0
			w.agree("the gate", open && !w.l.handed, !w.l.handed && w.l.mayGo())
			done := w.try("hand over", func(j *job.Job) (job.Job, document.Faults) { return j.HandOver(w.p, day, condition, 12) })
			w.agree("handing over", done, open && !w.l.handed)
			if done {
				w.l.handed, w.l.here = true, false
			}
		},
	}
}

func (w *walk) hours() map[string]func(*rapid.T) {
	return map[string]func(*rapid.T){
		"work": func(t *rapid.T) {
			entry := rapid.Custom(func(t *rapid.T) job.NewHours {
				return job.NewHours{
					Crew:  rapid.SampledFrom([]string{"master", "prentice", "joiner"}).Draw(t, "crew"),
					Stage: rapid.SampledFrom(stageCodes).Draw(t, "stage"),
					Trade: rapid.SampledFrom([]string{"gas_fitter", "joiner"}).Draw(t, "trade"),
					Hours: decimal.New(rapid.Int64Range(1, 900).Draw(t, "hours"), -2),
				}
			})
			list := rapid.SliceOfN(entry, 1, 3).Draw(t, "list")
			w.try("work", func(j *job.Job) (job.Job, document.Faults) { return j.Work(w.p, crew, day, list) })
		},
		"take back": func(t *rapid.T) {
			if len(w.j.Hours) == 0 {
				t.Skip()
			}
			n := rapid.SampledFrom(w.j.Hours).Draw(t, "entry").Number
			w.try("take back", func(j *job.Job) (job.Job, document.Faults) { return j.TakeBack(crew, day, n, "So.") })
		},
		"use": func(t *rapid.T) {
			n := job.NewPart{Part: rapid.SampledFrom([]string{"pipe", "hob"}).Draw(t, "part"), Stage: rapid.SampledFrom(stageCodes).Draw(t, "stage"),
				Quantity: decimal.New(rapid.Int64Range(-50, 50).Draw(t, "quantity"), -1), Because: "So."}
			w.try("use", func(j *job.Job) (job.Job, document.Faults) { return j.Use(w.p, day, n, known) })
		},
	}
}

// sums holds what is counted against what the entries say one by one.
func (w *walk) sums(t *rapid.T) {
	days := map[string]decimal.Decimal{}
	at := map[string]bool{} // who was at a stage and trade
	for _, h := range w.j.Hours {
		days[h.Crew] = days[h.Crew].Add(h.Hours)
		taken := slices.ContainsFunc(w.j.Hours, func(o job.Worked) bool { return o.Corrects == h.Number })
		if h.Corrects == 0 && !taken {
			at[h.Crew+" "+h.Stage+" "+h.Trade] = true
		}
		if m := crew[slices.IndexFunc(crew, func(m schedule.Member) bool { return m.ID == h.Crew })]; !slices.ContainsFunc(m.Trades, func(t schedule.MemberTrade) bool { return t.Trade == h.Trade }) {
			t.Fatalf("%s worked as %s", h.Crew, h.Trade)
		}
	}
	for who, sum := range days {
		if sum.IsNegative() || sum.GreaterThan(decimal.NewFromInt(24)) {
			t.Fatalf("%s worked %s h on one day", who, sum)
		}
	}
	for _, s := range stageCodes {
		if at["prentice "+s+" gas_fitter"] && !at["master "+s+" gas_fitter"] {
			t.Fatalf("the apprentice was alone at the gas in %s", s)
		}
		for _, part := range []string{"pipe", "hob"} {
			if w.j.Used(s, part).IsNegative() {
				t.Fatalf("%s of %s used at %s", w.j.Used(s, part), part, s)
			}
		}
		if w.j.StageState(s) != w.l.state[s] {
			t.Fatalf("%s is %s, and %s by the ledger", s, w.j.StageState(s), w.l.state[s])
		}
	}
	gate := codesOf(w.j.Gate(w.p, day.Today))
	for code, cleared := range map[string]bool{
		"paper gas_test": w.l.papers["gas_test"], "awaits_test tight": w.l.passed["tight"] || w.l.state["gas"] == job.LeftOut,
		"awaits_test wired": w.l.passed["wired"] || w.l.state["wiring"] == job.LeftOut, "weighing": w.l.ticket, "balance": w.l.cleared,
		"not_here": w.l.here,
	} {
		if slices.Contains(gate, code) == cleared && !w.l.handed {
			t.Fatalf("the gate says %q, and by the ledger %s is clear: %v", gate, code, cleared)
		}
	}
	if w.j.OnSite() != w.l.here {
		t.Fatalf("here: %v, by the ledger %v", w.j.OnSite(), w.l.here)
	}
}

// Whatever is done to a job in whatever order, it is done if and only if a
// foreman's ledger allows it: stages in their order, no work hidden untested,
// no hold about gas lifted by a word, nobody alone who may not be, no handover
// but through the gate. What is refused changes nothing, and what is done leaves
// the job before it as it was.
func TestJobKeepsToTheLedger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, j := begun()
		var faults document.Faults
		if j, faults = j.Attach(p, day, job.Attachment{SHA256: sum}, ""); len(faults) > 0 {
			t.Fatal(faults)
		}
		w := &walk{t: t, p: p, j: j, photo: j.Attachments[0].Number, l: &ledger{
			state: map[string]job.StageState{}, passed: map[string]bool{}, papers: map[string]bool{}, standing: map[int]catalogue.Caution{},
			at: map[int]string{}, snags: map[int]string{}, shown: map[string]bool{},
		}}
		for _, s := range stageCodes {
			w.l.state[s] = job.ToDo
		}
		if far := rapid.IntRange(0, 2).Draw(t, "far"); far > 0 {
			w.nearlyDone(far == 2)
		}
		actions := map[string]func(*rapid.T){"": w.sums}
		for _, some := range []map[string]func(*rapid.T){w.stages(), w.tests(), w.rest(), w.hours()} {
			for name, do := range some {
				actions[name] = func(t *rapid.T) { w.t = t; do(t) }
			}
		}
		t.Repeat(actions)
	})
}

// nearlyDone brings a job to where little stands in the way, so that the gate
// is seen from both sides.
func (w *walk) nearlyDone(certified bool) {
	for _, do := range []func(j *job.Job) (job.Job, document.Faults){
		func(j *job.Job) (job.Job, document.Faults) { return j.Arrive(day, signed(w.photo)) },
		func(j *job.Job) (job.Job, document.Faults) {
			return j.Keep(w.p, day, job.NewPaper{Code: "letter", Attachment: w.photo})
		},
	} {
		if !w.try("beginning", do) {
			w.t.Fatal("not begun")
		}
	}
	w.l.here, w.l.papers["letter"] = true, true
	for _, s := range stageCodes[:4] {
		for _, do := range []func(j *job.Job) (job.Job, document.Faults){
			func(j *job.Job) (job.Job, document.Faults) { return j.Begin(w.p, day, s) },
			func(j *job.Job) (job.Job, document.Faults) { return j.Finish(w.p, day, s) },
		} {
			if !w.try(s, do) {
				w.t.Fatal(s)
			}
		}
		w.l.state[s] = job.Done
	}
	for _, n := range []job.NewTest{{Of: "wired", Crew: "joiner", Passed: true}, {Of: "tight", Signatory: engineer, Passed: true}} {
		if !w.try("test", func(j *job.Job) (job.Job, document.Faults) { return j.Record(w.p, day, n) }) {
			w.t.Fatal("not tested")
		}
		w.l.passed[n.Of] = true
	}
	if !certified {
		return
	}
	for _, do := range []func(j *job.Job) (job.Job, document.Faults){
		func(j *job.Job) (job.Job, document.Faults) {
			return j.Keep(w.p, day, job.NewPaper{Code: "gas_test", Signatory: engineer, Attachment: w.photo})
		},
		func(j *job.Job) (job.Job, document.Faults) { return j.Begin(w.p, day, "furniture") },
		func(j *job.Job) (job.Job, document.Faults) { return j.Finish(w.p, day, "furniture") },
		func(j *job.Job) (job.Job, document.Faults) { return j.LeaveOut(w.p, day, "finish", "So.") },
	} {
		if !w.try("certified", do) {
			w.t.Fatal("not certified")
		}
	}
	w.l.papers["gas_test"], w.l.signed, w.l.state["furniture"], w.l.state["finish"] = true, true, job.Done, job.LeftOut
}
