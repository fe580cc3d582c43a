package api

import (
	"slices"
	"strings"

	"wainscot/bom"
	"wainscot/bom/options"
	"wainscot/openapi"
)

// Standings and their reasons as the contract has them.

// optionsTeller puts an answer of the engine, which speaks in places of lists,
// into the codes of the catalogue.
type optionsTeller struct {
	model      *options.Model
	resolution *bom.Resolution
	// reasons: also why each option stands as it does.
	reasons bool
}

var contractVerbs = map[options.Verb]openapi.SaidVerb{
	options.Want:    openapi.SaidVerbWant,
	options.Refuse:  openapi.SaidVerbRefuse,
	options.Number:  openapi.SaidVerbNumber,
	options.AtLeast: openapi.SaidVerbAtLeast,
	options.Pick:    openapi.SaidVerbPick,
}

var contractSources = map[options.Source]openapi.SaidSource{
	options.FromVan:      openapi.SaidSourceVan,
	options.FromFitted:   openapi.SaidSourceFitted,
	options.FromCustomer: openapi.SaidSourceCustomer,
	options.FromPackage:  openapi.SaidSourcePackage,
	options.FromSettling: openapi.SaidSourceSettling,
}

var contractCauses = map[options.CauseKind]openapi.CauseKind{
	options.ByRule:     openapi.CauseKindRule,
	options.ByGroup:    openapi.CauseKindGroup,
	options.ByFollower: openapi.CauseKindFollower,
	options.ByVan:      openapi.CauseKindVan,
	options.BySetting:  openapi.CauseKindSetting,
}

func (t optionsTeller) said() []openapi.Said {
	return mapped(t.resolution.Said, contractSaid)
}

func contractSaid(c options.Choice) openapi.Said {
	return openapi.Said{
		Source: contractSources[c.Source], Verb: contractVerbs[c.Verb], Name: c.Feature, Number: whole(c.N), Value: c.Value,
	}
}

func (t optionsTeller) options() []openapi.Option {
	answer := &t.resolution.Answer
	return mapped(answer.Options, func(o options.Option) openapi.Option {
		option := openapi.Option{
			Feature:  t.model.Features[o.Feature].Code,
			Standing: openapi.Standing(o.Standing.String()),
			Swap:     o.Swap,
			Least:    whole(o.Least),
			Most:     whole(o.Most),
		}
		if t.reasons {
			option.Why = t.reason(answer.Why(o.Feature))
			option.WhyMost = t.reason(answer.WhyMost(o.Feature))
		}
		return option
	})
}

func (t optionsTeller) settings() []openapi.Setting {
	settings := mapped(t.model.Settings, func(s options.Setting) openapi.Setting {
		return openapi.Setting{Name: s.Name, Values: []openapi.SettingValue{}}
	})
	for _, v := range t.resolution.Answer.Settings {
		into := &settings[v.Setting]
		into.Values = append(into.Values, openapi.SettingValue{
			Value: t.model.Settings[v.Setting].Values[v.Value], Standing: openapi.Standing(v.Standing.String()),
		})
	}
	return settings
}

func (t optionsTeller) putAside() []openapi.PutAside {
	return mapped(t.resolution.Answer.PutAside, func(p options.PutAside) openapi.PutAside {
		return openapi.PutAside{Choice: whole(p.Choice), Why: t.reason(p.Why)}
	})
}

func (t optionsTeller) unsettled() []openapi.Unsettled {
	return mapped(t.resolution.Answer.Unsettled, func(u options.Unsettled) openapi.Unsettled {
		unsettled := openapi.Unsettled{
			Says:    u.Says,
			Options: mapped(u.Options, func(f int) string { return t.model.Features[f].Code }),
		}
		if u.Group >= 0 {
			unsettled.Group = t.model.Groups[u.Group].Code
		}
		if u.Rule >= 0 {
			unsettled.Rule = t.model.Rules[u.Rule].Code
		}
		return unsettled
	})
}

// reason is the zero Reason, which is left out, where there is nothing to
// explain.
func (t optionsTeller) reason(why *options.Reason) openapi.Reason {
	if why == nil {
		return openapi.Reason{}
	}
	reason := openapi.Reason{
		Says:    t.sentence(why),
		Choices: mapped(why.Choices, whole),
		Causes:  make([]openapi.Cause, 0, len(why.Causes)),
	}
	for _, c := range why.Causes {
		kind, told := contractCauses[c.Kind]
		if !told {
			continue
		}
		reason.Causes = append(reason.Causes, openapi.Cause{Kind: kind, Code: t.causeCode(c), Says: c.Says})
	}
	return reason
}

// causeCode names what a cause is about: its Index is a place in the list its
// kind says.
func (t optionsTeller) causeCode(c options.Cause) string {
	switch {
	case c.Kind == options.ByRule && c.Index < len(t.model.Rules):
		return t.model.Rules[c.Index].Code
	case c.Kind == options.ByGroup && c.Index < len(t.model.Groups):
		return t.model.Groups[c.Index].Code
	case c.Kind == options.BySetting && c.Index < len(t.model.Settings):
		return t.model.Settings[c.Index].Name
	case c.Index < len(t.model.Features):
		return t.model.Features[c.Index].Code
	}
	return ""
}

// sentence is a whole reason for a person: what was said, and the rules that
// make it matter.
func (t optionsTeller) sentence(why *options.Reason) string {
	var said, rules []string
	for _, i := range why.Choices {
		said = append(said, t.choiceWords(t.resolution.Said[i]))
	}
	for _, c := range why.Causes {
		if says := strings.TrimSpace(c.Says); says != "" && !slices.Contains(rules, says) {
			rules = append(rules, says)
		}
	}
	sentences := ""
	if len(said) > 0 {
		sentences = "Because of " + strings.Join(said, ", ") + "."
	}
	if len(rules) > 0 {
		sentences = strings.TrimSpace(sentences + " " + strings.Join(rules, " "))
	}
	if sentences == "" {
		return "No allowed specification is otherwise."
	}
	return sentences
}

// choiceWords names a choice as part of a sentence.
func (t optionsTeller) choiceWords(c options.Choice) string {
	name := c.Feature
	if i := slices.IndexFunc(t.model.Features, func(f options.Feature) bool { return f.Code == c.Feature }); i >= 0 {
		name = t.model.Features[i].Name
	}
	switch c.Verb {
	case options.Refuse:
		return "“no " + name + "”"
	case options.Pick:
		if i := slices.IndexFunc(t.model.Settings, func(s options.Setting) bool { return s.Name == c.Feature }); i >= 0 {
			name = t.model.Settings[i].Label
		}
		return "“" + name + ": " + c.Value + "”"
	case options.Want, options.Number, options.AtLeast:
	}
	return "“" + name + "”"
}

func contractQuestion(q bom.Question) openapi.Question {
	return openapi.Question{
		Group: q.Group, Finish: q.Finish, Rule: q.Rule, Name: q.Name, Stage: q.Stage, Must: q.Must, AtMostOne: q.One, Default: orNone(q.Default),
		Answers: mapped(q.Answers, func(a bom.Answerable) openapi.QuestionAnswer {
			return openapi.QuestionAnswer{Code: a.Code, Finish: a.Finish, Name: a.Name, Least: whole(a.Least), Most: whole(a.Most)}
		}),
	}
}
