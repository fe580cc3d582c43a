package bom

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/catalogue"
	"wainscot/bom/options"
)

// Question is something that choices leave open: what of a group to take, which
// choice of a finish, or which of several groups' features a rule gets that
// needs one of them.
type Question struct {
	// One of the three codes.
	Group, Finish, Rule string
	Name                string // of the group or finish; what the rule says
	Stage               string // code of the stage whose turn it is
	// Must: without an answer the choices are not settled, or of a finish no
	// quote can be issued.
	Must bool
	// One: not more than one of the answers.
	One bool
	// Answers that can be given, each by itself, in the order of the catalogue.
	Answers []Answerable
	// Default are the answers settling takes, where it takes any: their codes.
	Default []string
}

// Answerable is one possible answer.
type Answerable struct {
	Code   string // of the feature, or of the finish's choice
	Finish string // of a choice that answers the question of a rule
	Name   string
	// Least and Most there can be of a counted feature; 0 of all else.
	Least, Most int
}

// Questions are what is still open in a resolution, in the order of work, groups
// before finishes, then as in the catalogue. Only what can be had is among the
// answers. Followers are none but to a rule: they come by themselves. Error:
// options.ErrBudget.
func Questions(r *Release, res *Resolution) ([]Question, error) {
	v := r.baseVans[res.Specification.Van.BaseVan]
	rules, err := r.rules(v)
	if err != nil {
		return nil, err
	}
	walk, err := rules.Complete(res.Said)
	if err != nil {
		return nil, fmt.Errorf("looking for what is open: %w", err)
	}
	defer walk.End()
	q := questioning{r: r, res: res, walk: walk, model: rules.Model()}
	missing := walk.Missing()
	for g := range r.catalogue.Groups {
		if err := q.group(g); err != nil {
			return nil, err
		}
	}
	if err := q.rules(missing); err != nil {
		return nil, err
	}
	q.finishes()
	slices.SortStableFunc(q.list, func(a, b placed) int { return cmp.Compare(a.at, b.at) })
	out := make([]Question, len(q.list))
	for i, p := range q.list {
		out[i] = p.Question
		if p.at < len(r.stages) {
			out[i].Stage = r.catalogue.Stages[r.stages[p.at]].Code
		}
	}
	return out, nil
}

type questioning struct {
	r     *Release
	res   *Resolution
	walk  *options.Completion
	model *options.Model
	list  []placed
	must  []int // groups
}

// placed is a question with its stage in the order of work.
type placed struct {
	Question
	at int
}

func (q *questioning) open(feature int) bool {
	f := &q.r.catalogue.Features[feature]
	return q.res.Answer.Options[feature].Standing == options.Open && !f.Follower
}

// answerable is a feature as an answer, where there are to be at least so many.
func (q *questioning) answerable(feature, n int) (Answerable, error) {
	f := &q.r.catalogue.Features[feature]
	a := Answerable{Code: f.Code, Name: f.Name}
	if f.Count == nil {
		return a, nil
	}
	a.Most = q.res.Answer.Options[feature].Most
	here := q.walk.Here()
	defer q.walk.Back(here)
	for a.Least = max(n, f.Count.Least); a.Least < a.Most; a.Least++ {
		ok, err := q.walk.Take(options.Choice{Verb: options.Number, Feature: f.Code, N: a.Least, Source: options.FromSettling})
		if err != nil {
			return a, fmt.Errorf("looking for how many there can be: %w", err)
		}
		if ok {
			break
		}
	}
	return a, nil
}

// group asks what of a group to take.
func (q *questioning) group(g int) error {
	group := &q.r.catalogue.Groups[g]
	n := Question{Group: group.Code, Name: group.Name, One: group.Pick != catalogue.AnyNumber}
	q.walk.Start()
	for _, f := range q.r.members[g] {
		if !q.open(f) {
			continue
		}
		a, err := q.answerable(f, 0)
		if err != nil {
			return err
		}
		n.Answers = append(n.Answers, a)
	}
	for i := 0; i < len(n.Answers) && !n.Must; i++ {
		ok, err := q.walk.Without(options.Choice{Verb: options.Want, Feature: n.Answers[i].Code})
		if err != nil {
			return fmt.Errorf("looking for what must be picked: %w", err)
		}
		n.Must = !ok
	}
	if len(n.Answers) == 0 {
		return nil
	}
	if n.Must {
		q.must = append(q.must, g)
	}
	for _, d := range group.Default {
		if slices.ContainsFunc(n.Answers, func(a Answerable) bool { return a.Code == d.Feature }) && (len(n.Default) == 0 || !n.One) {
			n.Default = append(n.Default, d.Feature)
		}
	}
	at := find(q.r.stages, func(s int) bool { return q.r.catalogue.Stages[s].Code == group.Stage })
	q.list = append(q.list, placed{n, at})
	return nil
}

// rules asks for what more than one group could give, where no question of a
// single group will bring it.
func (q *questioning) rules(missing []options.Missing) error {
	q.walk.Start()
	var asked []string
	for _, m := range missing {
		n := Question{Name: m.Cause.Says, Must: true}
		at, covered := len(q.r.stages), false
		if m.Cause.Kind == options.ByRule {
			n.Rule = q.r.catalogue.Rules[m.Cause.Index].Code
		}
		groups := map[int]bool{}
		for _, c := range m.Any {
			if c.Verb == options.Pick {
				if a := q.pick(c); a.Code != "" {
					groups[-2], n.Answers = true, append(n.Answers, a)
				}
				continue
			}
			k := q.r.features[c.Feature]
			if o := &q.res.Answer.Options[k]; o.Standing == options.RuledOut || c.N > o.Most {
				continue
			}
			groups[q.r.groupOf[k]] = true
			covered = slices.Contains(q.must, q.r.groupOf[k])
			a, err := q.answerable(k, c.N)
			if err != nil {
				return err
			}
			n.Answers = append(n.Answers, a)
			if g := q.r.groupOf[k]; g >= 0 {
				at = min(at, find(q.r.stages, func(s int) bool { return q.r.catalogue.Stages[s].Code == q.r.catalogue.Groups[g].Stage }))
			}
		}
		if n.Rule == "" || len(groups) == 1 && covered || len(n.Answers) == 0 || slices.Contains(asked, n.Rule) {
			continue
		}
		asked = append(asked, n.Rule)
		q.list = append(q.list, placed{n, at})
	}
	return nil
}

// pick is the answer that picks a finish's choice; none where that is ruled out.
func (q *questioning) pick(c options.Choice) Answerable {
	code, _ := strings.CutPrefix(c.Feature, "finish.")
	k, ok := q.r.finishes[code]
	if !ok || q.ruledOut(code, c.Value) {
		return Answerable{}
	}
	finish := &q.r.catalogue.Finishes[k]
	i := find(finish.Choices, func(f catalogue.FinishChoice) bool { return f.Code == c.Value })
	return Answerable{Code: c.Value, Finish: code, Name: finish.Name + ": " + finish.Choices[i].Name}
}

// finishes asks for the choices of finishes that apply and have none.
func (q *questioning) finishes() {
	for i := range q.res.Specification.Finishes {
		f := &q.res.Specification.Finishes[i]
		k := q.r.finishes[f.Finish]
		if f.Choice != "" {
			continue
		}
		finish := &q.r.catalogue.Finishes[k]
		n := Question{Finish: finish.Code, Name: finish.Name, Must: true, One: true}
		for _, c := range finish.Choices {
			if !q.ruledOut(finish.Code, c.Code) {
				n.Answers = append(n.Answers, Answerable{Code: c.Code, Name: c.Name})
			}
		}
		if slices.ContainsFunc(n.Answers, func(a Answerable) bool { return a.Code == finish.Default }) {
			n.Default = []string{finish.Default}
		}
		q.list = append(q.list, placed{n, q.firstUse(k)})
	}
}

func (q *questioning) ruledOut(finish, choice string) bool {
	return slices.ContainsFunc(q.res.Answer.Settings, func(v options.SettingValue) bool {
		set := &q.model.Settings[v.Setting]
		code, ok := strings.CutPrefix(set.Name, "finish.")
		return ok && code == finish && set.Values[v.Value] == choice && v.Standing == options.RuledOut
	})
}

// firstUse is the first stage in the order of work where something that is
// there asks for a finish; behind all of them where nothing does.
func (q *questioning) firstUse(finish int) int {
	at := len(q.r.stages)
	for i := range q.res.Specification.Features {
		for _, w := range q.r.sheet.fit[q.r.features[q.res.Specification.Features[i].Code]] {
			if slices.ContainsFunc(w.asks, func(a ask) bool { return int(a.finish) == finish }) {
				at = min(at, w.stage)
			}
		}
	}
	return at
}
