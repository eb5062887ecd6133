package wording

import (
	"strings"
	"sync"

	"cazward/procedure"
)

// enDeskSays and esDeskSays are what the supervisor's verbs say beside the
// reasons.
var enDeskSays = sync.OnceValue(func() map[string]string {
	return map[string]string{
		"order":            "Most dangerous first. Judged by {what}.",
		"own-scheme":       "each record's own scheme",
		"with":             "with",
		"accepted-by":      "accepted by {name}",
		"practice":         "PRACTICE",
		"nothing-wants":    "nothing wants attention; it waits for a sign-off",
		"open-with":        "open: {how}",
		"file":             "file: {path}",
		"none-like-that":   "no home that waits is like that; --signed looks among the accepted too",
		"nothing-waits":    "nothing waits. See what was accepted: cazward desk queue --signed",
		"go-on":            "{n} of {of} homes. Go on: {how}",
		"homes":            "{n} of {of} homes",
		"lead.signed":      "signed",
		"sign.accept":      "accept",
		"sign.return":      "return",
		"signed":           "{verdict} by {name} on {when}",
		"signed.now":       "signed: {home}, {verdict}, closing hash {hash}",
		"signed.already":   "signed already: {verdict} by {name}",
		"file.away":        "the file is not at hand: {path}; the next desk add of the file gives it the sign-off",
		"file.not-written": "not written into {path}: {why}; the next desk add of the file gives it the sign-off",
		"file.written":     "written into {path} too",
		"earlier":          "an earlier state",
		"signature":        "signature {state}",
		"state.good":       "good",
		"state.unchecked":  "unchecked",
		"decision.leave":   "leave",
		"decision.hold":    "hold",
		"decision.refer":   "refer",
		"decision.proceed": "proceed",

		"decision.incomplete": "incomplete",
		"decision.":           "not judged",

		"add":                "{n} read: {parts}",
		"add.new":            "{n} new",
		"add.grew":           "{n} grown",
		"add.same":           "{n} known already",
		"add.older":          "{n} older copies",
		"add.second":         "{n} second records of an id, both kept",
		"add.delivered":      "{n} given a sign-off",
		"add.practice":       "of them {n} of practice houses",
		"add.practice-house": "was made in a practice house, and the register keeps real homes only",
		"add.failed":         "{n} with failed integrity, kept and listed",
		"add.not-judged":     "{n} not judged, kept and listed",
		"add.refused":        "{n} refused",
		"add.stopped":        "stopped before the end: what is counted here is kept; give the command again to go on",
		"rebuild":            "{n} made again, {failed} of them with failed integrity or not judged",

		"rejudge.home":  "{home} ({id}): {was}, now {now}",
		"rejudge.total": "{n} of {of} homes change; {not} cannot be judged. Nothing was changed: cazward desk rebuild applies it",
		"why.now":       "now: {what}",
		"why.before":    "before: {what}",
		"why.missing":   "now missing: {what}",
		"why.alike":     "the findings are alike; the decision was made by another version or table: see cazward desk open",

		"trend.group":     "{group}, {phase}: {n} homes",
		"trend.none":      "no homes",
		"trend.unknown":   "not known",
		"trend.net":       "net",
		"trend.draft":     "draft inside its line by",
		"trend.spill":     "smoke drawn in after",
		"trend.spread":    "{what}: middle half {q1} to {q3} {unit}, median {median}, worst {worst}, of {n}",
		"trend.worst":     "worst with: {config} ({n} of {of} zones)",
		"phase.test-in":   "before sealing (test-in)",
		"phase.daily":     "during (daily)",
		"phase.test-out":  "after sealing (test-out)",
		"phase.":          "phase not known",
		"config.ah-off":   "air handler off",
		"config.ah-on":    "air handler on",
		"config.caz-open": "CAZ door open",
		"config.caz-shut": "CAZ door closed",
		"config.shut":     "doors shut",
		"config.open":     "doors open",
	}
})

var esDeskSays = sync.OnceValue(func() map[string]string {
	return map[string]string{
		"order":            "Lo más peligroso primero. Juzgado con: {what}.",
		"own-scheme":       "el esquema propio de cada registro",
		"with":             "con",
		"accepted-by":      "aceptado por {name}",
		"practice":         "PRÁCTICA",
		"nothing-wants":    "nada pide atención; espera una firma de revisión",
		"open-with":        "abrir: {how}",
		"file":             "archivo: {path}",
		"none-like-that":   "ninguna casa en espera es así; --signed busca también entre las aceptadas",
		"nothing-waits":    "nada espera. Lo aceptado se ve con: cazward desk queue --signed",
		"go-on":            "{n} de {of} casas. Sigue con: {how}",
		"homes":            "{n} de {of} casas",
		"lead.signed":      "firma ",
		"sign.accept":      "aceptado",
		"sign.return":      "devuelto",
		"signed":           "{verdict} por {name} el {when}",
		"signed.now":       "firmado: {home}, {verdict}, hash de cierre {hash}",
		"signed.already":   "ya estaba firmado: {verdict} por {name}",
		"file.away":        "el archivo no está a mano: {path}; el próximo desk add del archivo le da la firma",
		"file.not-written": "no se escribió en {path}: {why}; el próximo desk add del archivo le da la firma",
		"file.written":     "escrito también en {path}",
		"earlier":          "un estado anterior",
		"signature":        "firma digital {state}",
		"state.good":       "válida",
		"state.unchecked":  "no comprobada",
		"decision.leave":   "todos afuera",
		"decision.hold":    "en espera",
		"decision.refer":   "con servicio",
		"decision.proceed": "siga",

		"decision.incomplete": "incompleto",
		"decision.":           "sin juzgar",

		"add":                "{n} leídos: {parts}",
		"add.new":            "{n} nuevos",
		"add.grew":           "{n} crecidos",
		"add.same":           "{n} ya conocidos",
		"add.older":          "{n} copias anteriores",
		"add.second":         "{n} segundos registros de un id, se guardan ambos",
		"add.delivered":      "{n} recibieron una firma de revisión",
		"add.practice":       "de ellos {n} de casas de práctica",
		"add.practice-house": "se hizo en una casa de práctica, y el registro central guarda solo casas reales",
		"add.failed":         "{n} no íntegros, guardados y en la lista",
		"add.not-judged":     "{n} sin juzgar, guardados y en la lista",
		"add.refused":        "{n} rechazados",
		"add.stopped":        "parado antes del final: lo contado aquí está guardado; repita el comando para seguir",
		"rebuild":            "{n} hechos de nuevo, {failed} de ellos no íntegros o sin juzgar",

		"rejudge.home":  "{home} ({id}): {was}, ahora {now}",
		"rejudge.total": "cambian {n} de {of} casas; {not} no se pueden juzgar. No se cambió nada: cazward desk rebuild lo aplica",
		"why.now":       "ahora: {what}",
		"why.before":    "antes: {what}",
		"why.missing":   "falta ahora: {what}",
		"why.alike":     "los hallazgos son iguales; la decisión se tomó con otra versión o tabla: vea cazward desk open",

		"trend.group":     "{group}, {phase}: {n} casas",
		"trend.none":      "ninguna casa",
		"trend.unknown":   "no se sabe",
		"trend.net":       "neta",
		"trend.draft":     "tiro dentro de su línea por",
		"trend.spill":     "humo aspirado a los",
		"trend.spread":    "{what}: mitad central de {q1} a {q3} {unit}, mediana {median}, peor {worst}, de {n}",
		"trend.worst":     "lo peor con: {config} ({n} de {of} zonas)",
		"phase.test-in":   "antes de sellar (inicial)",
		"phase.daily":     "durante (diaria)",
		"phase.test-out":  "después de sellar (final)",
		"phase.":          "fase no conocida",
		"config.ah-off":   "manejadora apagada",
		"config.ah-on":    "manejadora encendida",
		"config.caz-open": "puerta CAZ abierta",
		"config.caz-shut": "puerta CAZ cerrada",
		"config.shut":     "puertas cerradas",
		"config.open":     "puertas abiertas",
	}
})

// DeskSays gives what the supervisor's verbs say; "" for a key that there is
// not. Pairs are name and value.
func DeskSays(l Lang, key string, pairs ...string) string {
	says := enDeskSays()
	if OnPaper(l) == Spanish {
		says = esDeskSays()
	}
	args := map[string]string{}
	for i := 0; i+1 < len(pairs); i += 2 {
		args[pairs[i]] = pairs[i+1]
	}
	return fill(says[key], args)
}

// DeskDecision is the word of a decision in lists.
func DeskDecision(l Lang, d procedure.Decision) string {
	if w := DeskSays(l, "decision."+string(d)); w != "" {
		return w
	}
	return string(d)
}

// DeskPhase says when a test was made, before the sealing or after.
func DeskPhase(l Lang, p procedure.Phase) string {
	if w := DeskSays(l, "phase."+string(p)); w != "" {
		return w
	}
	return DeskSays(l, "phase.")
}

// deskConfigs are the parts of the set-ups that trends count, as the register
// names them.
var deskConfigs = map[string]string{"air handler off": "ah-off", "air handler on": "ah-on", "CAZ door open": "caz-open", "CAZ door closed": "caz-shut", "doors shut": "shut", "doors open": "open"}

// DeskConfig is a set-up in words.
func DeskConfig(l Lang, config string) string {
	parts := strings.Split(config, ", ")
	for i, p := range parts {
		if w := DeskSays(l, "config."+deskConfigs[p]); w != "" {
			parts[i] = w
		}
	}
	return strings.Join(parts, ", ")
}
