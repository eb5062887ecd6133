package wording

import (
	"maps"
	"strings"
	"sync"

	"cazward/procedure"
)

// enDesk is what the supervisor reads of each reason: what was seen, then what
// to look at. None says why it came about: most have an innocent cause.
var enDesk = sync.OnceValue(func() map[string]string {
	return map[string]string{
		"not-judged":          "no decision can be made of this record: {why}. Look at it with: cazward verify, cazward show",
		"integrity.damaged":   "the file is not what a writer left: {why}. Look for an unchanged copy",
		"integrity.torn":      "the last line was cut short: {why}. Look whether the crew went on with it",
		"integrity.fault":     "something kept beside the record is not as it should be: {why}. Look for the file it came with",
		"newer":               "written by a newer version: {why}. Look at it with that version or a newer one",
		"second-record":       "{n} different records carry this id and all are kept. Look at each: which one is the home's?",
		"leave":               "everyone out{about}. Look whether it was put right and tested again",
		"hold.test-in":        "not to be air-sealed as it is{about}. Look what was arranged",
		"hold.later":          "not to be left as it was{about}. Look whether it was put right and tested again",
		"incomplete":          "no result, things missing: {n}. Look what it would take to finish",
		"refer":               "goes ahead only with a service arranged{about}. Look whether it was",
		"too-close":           "too close to the limit to call: {about}. Look at the give-or-take; pairs or a calmer day settle it",
		"forecast.over":       "after sealing as planned about {value} Pa in {zone}, past its limit {limit}. Look at make-up air, or at where the sealing is to stop",
		"forecast.close":      "after sealing as planned about {value} Pa in {zone}, too close to its limit {limit} to call. Look at make-up air, or at where the sealing is to stop",
		"from-memory":         "rests on figures recalled from memory: {rows}. Look them up and mark them checked",
		"otherwise.table":     "closed as {was}; the table in force ({scheme}) now says {now}. Look at the rows that differ",
		"otherwise.edited":    "closed as {was}; this table ({scheme}), which was edited in one of the two, now says {now}. Look at the edited rows",
		"otherwise.program":   "closed as {was}; this program says {now} under the same table. Look at both reports",
		"no-later-test":       "sealing was allowed, and no daily test or test-out of this home is kept here. Look whether work was done",
		"calibration":         "calibration date more than a year before the test, or after it: {about}. Look at the certificate",
		"baseline-drift":      "baselines in {zone} differ by {drift} Pa where the plan allows {limit}. Look at the weather and at what ran",
		"open":                "the test was never closed. Look whether the crew goes on with it",
		"reopened":            "reopened after it was closed: {reason}. Look at what changed",
		"signed-earlier":      "{name} signed an earlier state ({verdict}). Look at what changed since",
		"returned":            "returned by {name}: {note}. Look whether the crew answered",
		"clock-longer":        "{step} says {says} s, while {passed} s passed between what was kept before and after. Look at how it was timed",
		"same-digits":         "{a} and {b} have the same {n} samples in the same order. Look at whether both were read",
		"no-spread":           "{n} readings never move between samples. Look at hoses, taps and the gauge's averaging",
		"fast-walk":           "{screens} screens in {minutes} min; the timed steps alone and bare answering take {need} min. Look at how it was entered",
		"rises-with-fans":     "pressure in {zone} rose {rise} Pa with exhaust fans on. Look at hoses and taps; supply air can do it too",
		"net-far-off.less":    "net in {zone} is {net} Pa; CFM50 and fan flows give about {want}. Look at windows, doors and whether fans moved air",
		"net-far-off.more":    "net in {zone} is {net} Pa; CFM50 and fan flows give about {want}. Look at the air handler, CFM50 and the hoses",
		"same-elsewhere":      "the same pressure samples stand in home {home}. Look at both sheets",
		"unsettled-doubts":    "signs of a spoiled reading left open: {codes}. Look at what would settle them",
		"desk.unknown-reason": "a reason that this version has no words for. Read it with a newer version",
		"not-known":           "not known",
		"no-note":             "no note",
	}
})

// esDesk is the same in Spanish. What a verifier or the record itself says
// stands in it as it came.
var esDesk = sync.OnceValue(func() map[string]string {
	return map[string]string{
		"not-judged":          "de este registro no sale ninguna decisión: {why}. Mírelo con: cazward verify, cazward show",
		"integrity.damaged":   "el archivo no es como se escribió: {why}. Busque una copia sin cambios",
		"integrity.torn":      "la última línea quedó cortada: {why}. Mire si la cuadrilla siguió con él",
		"integrity.fault":     "algo guardado junto al registro no está como debe: {why}. Busque el archivo con que vino",
		"newer":               "escrito por una versión más nueva: {why}. Mírelo con esa versión o una más nueva",
		"second-record":       "{n} registros distintos llevan este id y se guardan todos. Mire cada uno: ¿cuál es el de la casa?",
		"leave":               "todos afuera{about}. Mire si se corrigió y se probó otra vez",
		"hold.test-in":        "no se debe sellar como está{about}. Mire qué se acordó",
		"hold.later":          "no se debe dejar como estaba{about}. Mire si se corrigió y se probó otra vez",
		"incomplete":          "sin resultado, cosas que faltan: {n}. Mire qué haría falta para terminar",
		"refer":               "sigue solo con un servicio acordado{about}. Mire si se acordó",
		"too-close":           "demasiado cerca del límite para decidir: {about}. Mire el margen de la lectura; los pares o un día más calmado lo deciden",
		"forecast.over":       "después de sellar como está previsto, cerca de {value} Pa en {zone}, más allá de su límite {limit}. Mire el aire de reposición, o dónde debe parar el sellado",
		"forecast.close":      "después de sellar como está previsto, cerca de {value} Pa en {zone}, demasiado cerca de su límite {limit} para decidir. Mire el aire de reposición, o dónde debe parar el sellado",
		"from-memory":         "se apoya en cifras recordadas de memoria: {rows}. Búsquelas y márquelas como cotejadas",
		"otherwise.table":     "cerrado como {was}; la tabla en vigor ({scheme}) dice ahora {now}. Mire las filas que difieren",
		"otherwise.edited":    "cerrado como {was}; esta tabla ({scheme}), editada en una de las dos veces, dice ahora {now}. Mire las filas editadas",
		"otherwise.program":   "cerrado como {was}; este programa dice {now} con la misma tabla. Mire los dos informes",
		"no-later-test":       "se permitió sellar, y aquí no hay prueba diaria ni final de esta casa. Mire si se trabajó",
		"calibration":         "fecha de calibración más de un año antes de la prueba, o posterior a ella: {about}. Mire el certificado",
		"baseline-drift":      "las líneas base en {zone} difieren {drift} Pa y el plan permite {limit}. Mire el tiempo y qué funcionaba",
		"open":                "la prueba no se cerró. Mire si la cuadrilla sigue con ella",
		"reopened":            "abierto otra vez después de cerrarse: {reason}. Mire qué cambió",
		"signed-earlier":      "{name} firmó un estado anterior ({verdict}). Mire qué cambió desde entonces",
		"returned":            "devuelto por {name}: {note}. Mire si la cuadrilla respondió",
		"clock-longer":        "{step} dice {says} s, y entre lo guardado antes y después pasaron {passed} s. Mire cómo se midió el tiempo",
		"same-digits":         "{a} y {b} tienen las mismas {n} muestras en el mismo orden. Mire si se leyeron las dos",
		"no-spread":           "{n} lecturas no se mueven entre muestras. Mire las mangueras, las tomas y el promedio del medidor",
		"fast-walk":           "{screens} pantallas en {minutes} min; solo los pasos con reloj y contestar piden {need} min. Mire cómo se anotó",
		"rises-with-fans":     "la presión en {zone} subió {rise} Pa con los extractores en marcha. Mire las mangueras y las tomas; también puede ser aire de suministro",
		"net-far-off.less":    "la neta en {zone} es {net} Pa; CFM50 y caudales dan cerca de {want}. Mire las ventanas, las puertas y si los ventiladores movían aire",
		"net-far-off.more":    "la neta en {zone} es {net} Pa; CFM50 y caudales dan cerca de {want}. Mire la manejadora de aire, CFM50 y las mangueras",
		"same-elsewhere":      "las mismas muestras de presión están en la casa {home}. Mire las dos hojas",
		"unsettled-doubts":    "señales de una lectura dudosa sin resolver: {codes}. Mire qué las resolvería",
		"desk.unknown-reason": "una razón para la que esta versión no tiene palabras. Léala con una versión más nueva",
		"not-known":           "no se sabe",
		"no-note":             "sin nota",
	}
})

// Desk is the sentence of a reason in the queue. An argument that is not known
// reads as "not known".
func Desk(l Lang, code string, args map[string]string) string {
	args = maps.Clone(args)
	for _, k := range []string{"was", "now"} { // decisions, by their codes
		if v, ok := args[k]; ok {
			args[k] = DeskDecision(l, procedure.Decision(v))
		}
	}
	desk := enDesk()
	if OnPaper(l) == Spanish {
		desk = esDesk()
	}
	key := code
	switch code {
	case "integrity":
		key += "." + args["state"]
	case "hold":
		if key = "hold.later"; args["phase"] == "test-in" || args["phase"] == "" {
			key = "hold.test-in"
		}
	case "otherwise-now":
		key = "otherwise." + args["why"]
	case "net-far-off", "forecast":
		key += "." + args["side"]
	}
	t, ok := desk[key]
	if !ok {
		t = desk["desk.unknown-reason"]
	}
	for {
		a, rest, ok := strings.Cut(t, "{")
		if !ok {
			return t
		}
		k, b, ok := strings.Cut(rest, "}")
		if !ok {
			return t
		}
		v := strings.ReplaceAll(strings.ReplaceAll(args[k], "{", "("), "}", ")") // what was typed is no placeholder
		switch {
		case v == "" && k == "about" && (strings.HasPrefix(code, "leave") || code == "hold" || code == "refer"):
		case v == "" && k == "note":
			v = desk["no-note"]
		case v == "":
			v = desk["not-known"]
		case k == "about" && code != "too-close" && code != "calibration":
			v = ": " + v
		}
		t = a + v + b
	}
}
