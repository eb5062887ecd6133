package forms

import (
	"sync"
	"sync/atomic"

	"cazward/procedure/wording"
)

// spoken is the language of the screens of this process. One person sits at
// one terminal; nothing that is judged or kept depends on it.
var spoken atomic.Value

// Speak sets the language in which screens, lists of keys and refusals are
// worded. English is spoken until then.
func Speak(l wording.Lang) { spoken.Store(wording.OnScreen(l)) }

// Speaks reports the language that [Speak] set, as it stands on a screen.
func Speaks() wording.Lang {
	l, ok := spoken.Load().(wording.Lang)
	if !ok {
		return wording.English
	}
	return l
}

// phrase finds the text of a code in the language spoken, English where the
// other has none.
func phrase(code string) (string, bool) {
	if Speaks() == wording.SpanishScreen {
		if t, ok := spanish()[code]; ok {
			return wording.Fold(t), true
		}
	}
	t, ok := english()[code]
	return t, ok
}

// Label is a first word of plain mode ("ask", "item 3") in the language
// spoken.
func Label(word string) string {
	stem, number := word, ""
	for i := 0; i < len(word); i++ {
		if word[i] == ' ' && i+1 < len(word) && word[i+1] >= '0' && word[i+1] <= '9' {
			stem, number = word[:i], word[i:]
		}
	}
	if t, ok := phrase("label/" + stem); ok {
		return t + number
	}
	return word
}

// Signal is a signal word after ANSI Z535 in the language spoken; another word
// comes back as it is.
func Signal(word string) string {
	if t, ok := phrase("signal/" + word); ok {
		return t
	}
	return word
}

// spanish is the catalogue of this package in Spanish, by the codes of the
// English one. Accents are folded when it is shown.
var spanish = sync.OnceValue(func() map[string]string {
	return map[string]string{
		"empty":             "no escribió nada. Enter solo nunca quiere decir bien. {hint}",
		"hidden":            "hay un carácter de control. Escríbalo de nuevo, sin pegar.",
		"too-long":          "pasa de {max} caracteres. Más corto, por favor.",
		"not-an-answer":     `"{text}" no es respuesta aquí. {hint}`,
		"not-on-list":       "{text} no está en la lista: 1 a {max}.",
		"twice":             "{text} está dos veces.",
		"list-comma":        `"{text}": espacios entre números: {suggest}.`,
		"ok-and-more":       `"ok" y "none" van solos. {hint}`,
		"text-of-which":     "un texto es de un solo número: 2; 5: oxidado.",
		"text-empty":        "tras {text}: va lo que está mal.",
		"text-number":       `¿"{text}" es del texto o de la lista? Listas: 2: roto; 5; ?3.`,
		"go-and-look":       `"{text}" no sirve aquí. Vaya a ver; si puede ser, escriba su número.`,
		"set-it-so":         "{text} no es ventilador aquí. Deje el resto como la lista, o diga por qué con /k.",
		"count":             "{n} dados, {max} líneas: uno por cada una, ? si no se sabe.",
		"implausible":       "{text} está muy lejos de {what}. ¿{suggest}? Si es así, escriba {again} otra vez.",
		"implausible/plain": "{text} está muy lejos de {what}. Si es así, escriba {again} otra vez.",
		"few-values":        "{n} dados, hacen falta {max} o más. O un promedio y sus segundos: -1.0 30s.",
		"few-seconds":       "{text} s es muy poco: {max} s o más, o varios valores.",
		"no-seconds":        "un valor sin sus segundos: -1.0 30s. O {max} valores o más.",
		"pairs-seconds":     "aquí sin segundos: apagado, encendido, ..., cada uno con su signo.",
		"pairs-odd":         "{n} valores: apagado y encendido van por pares.",
		"pairs-few":         "{n} pares: hacen falta tres o más.",
		"gas-pairs":         "cada CO lleva su O2: 12 6.5 15 7. No leído: ?.",
		"gas-o2":            "O2 {text} % no puede ser. Primero CO, luego O2: 12 6.5.",
		"gas-sign":          "{text} ppm no puede ser.",
		"burner-input":      "falta la potencia: {text} 40000, o {text} ? si no se sabe.",
		"burner-zero":       "0 no es una potencia. No se sabe: ?.",
		"weather-two":       "hacen falta viento y temperatura de afuera: 6 34.",
		"weather-unit":      "¿{text} C o {text} F? Escríbalo con su letra.",
		"clock-unit":        "¿{text} qué? {text}s si son segundos. CO ambiente: /c {text}.",
		"clock-still":       "aún derramaba al cortar, ¿a los cuántos? still 60s.",
		"instrument-date":   `"{text}" no es una fecha como 2026-04-30.`,
		"instrument-res":    `"{text}" no es una resolución en Pa, como 0.1.`,
		"instrument-acc":    `"{text}" no es una exactitud, como 0.5 (Pa) o 1%.`,
		"instrument-parts":  "demasiadas partes. Nombre; serie; fecha; resolución.",
		"told-both":         "hacen falta los dos: quién; cómo.",
		"doubt-how":         "ok pide qué se miró: ok mangueras, las dos puntas.",
		"mark-terminal":     "una marca pide terminal. Escriba el tiempo: 37s, none, still 60s.",
		"no-such-key":       `"/{text}" no es tecla aquí. / sola las muestra; // escribe una barra.`,
		"the-line":          "la línea",
		"plain-figures":     "cifras",

		"msg/unsaved":      "DETENIDO  {text}",
		"msg/not-changed":  "SIN CAMBIO  dice lo mismo que antes.",
		"msg/stands":       "SIN CAMBIO  queda la respuesta vieja.",
		"msg/kept-facts":   "{why}; nada se pierde, {n} entradas guardadas",
		"msg/lost-facts":   "{why}; {n} entradas guardadas, lo que siguió NO se guardó",
		"msg/not-here":     "AQUÍ NO  conteste esto primero, o /b para volver.",
		"msg/no-record":    "AQUÍ NO  aún no hay registro. En peligro: /! y afuera.",
		"msg/shut-first":   "AÚN NO  apague primero todo, luego pare. En peligro: /! y afuera.",
		"msg/no-open":      "NO GUARDADO  no hay registro abierto en esta carpeta. Elija 2 para una vivienda nueva.",
		"msg/no-back":      "AÚN NO  no hay adónde volver",
		"msg/no-fix":       "AÚN NO  no hay respuesta que corregir",
		"msg/not-found":    "NO HALLADO  \"{text}\": estas son las respuestas más nuevas.",
		"msg/found":        "HALLADO  {n} con \"{text}\", primero las nuevas. Otra palabra busca de nuevo.",
		"msg/entry":        "{what} (entrada {n})",
		"msg/doubt-again":  "AQUÍ NO  una duda se resuelve leyendo otra vez: corrija la lectura.",
		"msg/correcting":   "CORRIGIENDO  {what}: escríbalo todo de nuevo.",
		"msg/changed":      "CAMBIÓ  guardado como {n}; se preguntan otra vez: {again}.",
		"msg/keep-name":    "{path}  (recuerde este nombre)",
		"msg/torn":         "su última línea estaba cortada y no vale; sus bytes quedan en {path}",
		"msg/input-ended":  "se acabó la entrada",
		"msg/stopped":      "sin terminar",
		"msg/closed":       "decisión {decision}: {head} ({word})",
		"msg/no-report":    "NO escrito: {err}",
		"msg/was":          "era: {what}",
		"msg/demo":         "CASA DE DEMO, INVENTADA",
		"msg/demo-short":   "DEMO, INVENTADA",
		"msg/practice":     "PRÁCTICA",
		"msg/over":         "fuera de rango",
		"msg/risk":         "riesgo aceptado: {row}: {reason}",
		"msg/back":         "CASA RESTABLECIDA {n} de {of}",
		"msg/back-open":    "CASA RESTABLECIDA {n} de {of}: pendiente {what}",
		"msg/back-none":    "CASA RESTABLECIDA: nada se cambió, o no se hizo",
		"msg/tested":       "NO PROBADO nada",
		"msg/not-tested":   "NO PROBADO {what}",
		"msg/today":        "{at} hoy",
		"msg/stopped-at":   "{home}, parado {at}",
		"msg/returned-at":  "{home}, devuelto {at}",
		"msg/returned":     "devuelto por {name}: {note}",
		"msg/not-received": "no se alcanzó el registro; puede haber firmas que esperan allí: {why}",
		"fault/enter":      "pulse Enter",
		"fault/answer":     "respuesta",
		"fault/mark":       "marca",
		"fault/entry":      "entrada",
		"fault/cool":       "deje enfriar el conducto, mida otra vez",
		"fault/again":      "escríbalo otra vez",
		"fault/mend":       "Arréglelo, {again}.",
		"fault/changed":    "registro cambiado desde fuera",
		"fault/verify":     "/q, luego verify.",
		"fault/record":     "el registro {text}",
		"fault/deleted":    "registro borrado o movido",
		"fault/put-back":   "Repóngalo, {again}.",
		"fault/another":    "Escríbalo de otro modo, o pare con /q.",
		"fault/full":       "disco lleno",
		"fault/free":       "Libere espacio, {again}.",
		"fault/protected":  "no se puede escribir",
		"fault/writable":   "Permita escribir, {again}.",
		"fault/disk":       "el disco falla",
		"fault/reseat":     "Reconéctelo, {again}; o /q.",
		"fault/closed":     "registro ya no abierto",
		"fault/go-on":      "/q, luego siga.",
		"fault/all":        "{why}: {what} NO guardada, anótela. {do} Última: {n}.",
		"msg/from-to":      "{from} a {to}",
		"msg/photo-how":    "NO GUARDADA  escriba tras ella la ruta de un JPEG o PNG: /a hollin.jpg",
		"msg/photo-later":  "AHORA NO  hay un quemador encendido. Tome la foto y dé su ruta tras este paso.",
		"msg/photo-gone":   "NO GUARDADA  {path}: no existe o no se puede leer. Escriba otra vez su ruta.",
		"msg/photo-bad":    "NO GUARDADA  {path} no es JPEG ni PNG, está dañada o pasa de 40 MB.",

		"reading/empty":               "no escribió nada. Enter solo nunca quiere decir bien. {hint}",
		"reading/no-sign":             "{text} no tiene signo. Zona más baja que afuera: -{text}. Más alta: +{text}.",
		"reading/no-sign/draft":       "{text} no tiene signo. Conducto más bajo que la zona: -{text}. Si no: +{text}.",
		"reading/comma":               `"{text}": use punto, {suggest}. Varios valores: espacios entre ellos.`,
		"reading/comma/list":          `"{text}": espacios entre valores: {suggest}.`,
		"reading/comma/plain":         `"{text}": punto decimal, espacios entre valores.`,
		"reading/comma-thousands":     `"{text}" se lee de dos modos. Sin la coma: {suggest}. Decimal: con punto.`,
		"reading/not-a-number":        `"{text}" no es un número simple. ¿{suggest}?`,
		"reading/not-a-number/plain":  `"{text}" no es un número simple. {hint}`,
		"reading/unit":                `"{text}" no es una unidad conocida aquí.`,
		"reading/unit/missing":        "falta una unidad.",
		"reading/unit-family":         "{text} mide otra cosa; se pide {suggest}.",
		"reading/mixed":               `"{text}" está fuera de lugar: valores, una unidad, segundos.`,
		"reading/too-many":            `"{text}" sobra. {hint}`,
		"reading/averaging-with-many": "{text} es de un solo promedio. Varios valores: sin segundos.",
		"reading/out-of-range":        "{text} no puede ser.",
		"what/zone-pressure":          "lo que lee una zona",
		"what/draft":                  "lo que lee un tiro",
		"what/":                       "lo que se ve aquí",
		"hint/text":                   "Escriba el texto.",
		"hint/choice":                 "Escriba un número, 1 a {max}.",
		"hint/checklist":              "Escriba ok, o los números que están mal: 2 5 ?3.",
		"hint/gate":                   "Escriba none, o los números que son así.",
		"hint/roster":                 "Escriba un número por cada uno: 1 1 3. O none.",
		"hint/facts":                  "Escriba los números ciertos, ?3 no se sabe. O none.",
		"hint/pick":                   "Escriba los números: 1 3. O none.",
		"hint/table":                  "Escriba una cifra por línea, ? si no se sabe.",
		"hint/numbers":                "Escriba un número por línea, ? si no se sabe.",
		"hint/number":                 "Escriba un número en {unit}, o ?.",
		"hint/burner":                 "Escriba combustible y potencia: 1 40000. No se sabe: ?.",
		"hint/weather":                "Escriba viento y temperatura de afuera: 6 34.",
		"hint/pressure":               "Escriba valores con signo: -0.8 -1.1. O uno y sus segundos: -1.0 30s.",
		"hint/pairs":                  "Escriba apagado encendido ..., tres pares o más, con signo.",
		"hint/gas":                    "Escriba CO y O2: 12 6.5. O over.",
		"hint/ambient":                "Escriba las ppm. O over.",
		"hint/clock":                  "Escriba 37s, none o still 60s.",
		"hint/setup":                  "Escriba ok, o los números de ventiladores que no andan.",
		"hint/setup/no-fan":           "Escriba ok cuando todo esté así. No se puede: /k.",
		"hint/instrument":             "Escriba nombre; serie; fecha; resolución (basta el nombre).",
		"hint/told":                   "Escriba quién; cómo.",
		"hint/doubt":                  "Escriba r, o ok y qué se miró, o k.",
		"hint/confirm":                "Escriba 1 como antes, o 2 cambió.",
		"fuel/":                       "combustible no sabido",
		"fuel/gas":                    "gas natural",
		"fuel/propane":                "propano",
		"fuel/oil":                    "aceite",
		"fuel/electric":               "eléctrico",
		"as/not-known":                "no se sabe",
		"as/values":                   "{n} valores, media {mean}, disp. {spread}",
		"as/steady":                   ": estable",
		"as/gusty":                    ": no estable",
		"as/steady-bound":             " ({max} o menos lo es)",
		"as/averaged":                 "{mean} Pa, promedio de {s} s",
		"as/one":                      "{mean} Pa, un valor",
		"as/pairs":                    "{n} pares, enc. menos apag.: media {mean} Pa, disp. {spread}",
		"as/over":                     "sobre el rango del analizador",
		"as/gas":                      "CO {co} ppm",
		"as/gas-o2":                   ", O2 {o2} %",
		"as/cells":                    "{n} celdas, CO más alto {co} ppm",
		"as/lel":                      "{v} % de LEL",
		"as/rising":                   ", subiendo",
		"as/none":                     "aspirado desde el primer segundo",
		"as/stopped":                  "aspirado a los {s} s",
		"as/still":                    "aún derrama a los {s} s",
		"as/weather":                  "viento {wind}, afuera {temp}",
		"as/burner":                   "{fuel}, {input}",
		"as/all-ok":                   "las {n} vistas y en orden",
		"as/gate-none":                "ninguna de las {n}",
		"as/gate-so":                  "es así: {wrong}",
		"as/list":                     "mal: {wrong}; no visto: {unseen}; las otras {n} en orden",
		"as/list-wrong":               "mal: {wrong}; las otras {n} en orden",
		"as/list-unseen":              "no visto: {unseen}; las otras {n} en orden",
		"as/roster-none":              "ninguno",
		"as/roster":                   "{n}: {names}",
		"as/given":                    "{n} de {n} dados",
		"as/set":                      "dispuesto como en la lista",
		"as/not-run":                  "dispuesto así, no anda: {names}",
		"as/as-before":                "como antes",
		"as/changed":                  "cambió",
		"as/left-out":                 "omitido",

		"ruler/net":                "{net}, más o menos {u}",
		"ruler/net-short":          "{net} (+-{u})",
		"ruler/lower":              "menos: abajo",
		"ruler/limit":              "límite de {text}: {side}",
		"ruler/more":               "{n} más: /w",
		"ruler/more-short":         "{n} más /w",
		"side/0":                   "no evaluado",
		"side/inside":              "DENTRO",
		"side/inside/so-far":       "DENTRO por ahora",
		"side/close":               "MUY CERCA, cuenta como fallo",
		"side/close/so-far":        "MUY CERCA, fallo por ahora",
		"side/close/short":         "MUY CERCA, fallo",
		"side/close/short/so-far":  "MUY CERCA por ahora",
		"side/beyond":              "PASA, un fallo",
		"side/beyond/so-far":       "PASA, fallo por ahora",
		"side/beyond/short/so-far": "PASA por ahora",

		"screen/stage":                  "etapa {n} de {of}",
		"screen/stage-short":            "{n} de {of}",
		"screen/kept":                   "guardado: {n}",
		"screen/kept-short":             "{n} guard.",
		"screen/rules":                  "reglas: {scheme}",
		"screen/ambient-word":           "CO ambiente",
		"screen/ambient":                "CO ambiente {v} ppm, hace {min} min",
		"screen/ambient-over":           "CO ambiente FUERA DE RANGO, hace {min} min",
		"screen/ambient-unread":         "CO ambiente sin leer",
		"screen/ambient-unread-burning": "CO AMBIENTE SIN LEER: LÉALO",
		"screen/ambient-old":            "CO AMBIENTE DE HACE {min} MIN: LÉALO",
		"screen/house-now":              "CASA AHORA",
		"screen/still":                  "QUIZÁ SIGUE",
		"screen/set-to":                 "DISPONER",
		"screen/list-under-w-short":     "(/w)",
		"screen/types-it":               "(= escribe)",
		"screen/look-again":             "MIRE OTRA VEZ",
		"screen/key-esc":                "Enter guarda la respuesta   Esc y una letra: las teclas de abajo",
		"screen/held":                   "EN EL PEOR CASO",
		"screen/set-up":                 "{on} ANDAN, {shut} puertas CERRADAS (/w lista)",
		"screen/list-under-w":           "(/w lista)",
		"screen/note":                   "(1 nota)",
		"screen/notes":                  "({n} notas)",
		"screen/not-known":              "no se sabe",
		"screen/was":                    "era {v}",
		"screen/read-as":                "leído",
		"screen/ask-co":                 "CO ambiente, ppm",
		"screen/ask-note":               "nota",
		"screen/ask-photo":              "ruta de la foto",
		"screen/so-far":                 "hasta aquí",
		"screen/net":                    "neta",
		"screen/more-caution":           " Enter  el resto de las advertencias ({n} de {of})",
		"ruler/label":                   "neta",
		"screen/list-on":                "la lista sigue",
		"screen/more-list":              " Enter  el resto de la lista ({n} de {of})",
		"screen/more-page":              " Enter  otra página            página {n} de {of}",
		"screen/page":                   "página {n} de {of}",
		"screen/key-keep":               "Enter guarda la respuesta",
		"screen/key-back":               "Enter vuelve a la página",
		"screen/key-skip":               "- omitir",
		"screen/key-down":               "/x problema: apagar",
		"screen/key-control":            "k no se puede  a foto  ! alarma, olor, malestar  / una barra  Retroceso cierra",
		"screen/key-control-short":      "k no se puede  a foto  ! alarma, olor  / barra  Retroceso",
		"screen/key-light":              "ESPACIO encendió   o escriba 37s, none, still 60s   x problema: apagar",
		"screen/key-light-short":        "ESPACIO encendió   o 37s, none   x problema: apagar",
		"screen/key-run":                "ESPACIO aspirado   s aún derrama, fin   x problema: apagar todo",
		"screen/key-run-short":          "ESPACIO aspirado   s aún derrama   x problema",
		"screen/key-drawn":              "Enter guarda   ESPACIO volvió   x problema: apagar todo",
		"screen/key-drawn-short":        "Enter guarda   ESPACIO volvió   x problema: apagar",
		"screen/slash":                  "/ y letra: b atrás f corregir n nota w por qué c CO p pausa q parar+guardar",
		"screen/slash-short":            "/ y: b atrás f corr. n nota w porqué c CO p pausa q parar",
		"screen/lit":                    "quemador encendido {at}",
		"screen/lit-short":              "enc. {at}",
		"screen/limit":                  "límite {s} s, este esquema",
		"screen/limit-short":            "límite {s} s",
		"screen/no-limit":               "este esquema no fija límite",
		"screen/no-limit-short":         "sin límite",
		"screen/spilling":               "DERRAMA",
		"screen/left":                   "quedan {s} s",
		"screen/past":                   "PASA de {s} s: es un fallo.",
		"screen/past-still":             "Siga mirando. s termina.",
		"screen/drawn":                  "ASPIRADO a los {s} s",
		"screen/drawn-past":             "ASPIRADO a los {s} s: PASA {limit} s",
		"screen/runs":                   "el reloj corre: {s} s",
		"screen/bar-limit":              "{at} límite",
		"screen/larger":                 "agrande la ventana o use --plain; nada se pierde",
		"screen/larger-short":           "(ventana chica)",
		"screen/why":                    "CAUSA",
		"screen/do":                     "HACER",
		"screen/holds":                  "VALE",
		"screen/more-why":               "{n} más: /w",
		"screen/no-key":                 "no es tecla",

		"plain/keys":                   "/b atrás, /f corregir, /n nota, /w por qué, /c o /c 12 CO ambiente, /p pausa, /q parar y guardar, /k no se puede, /a RUTA guardar una foto, /! alarma, olor, malestar, // una barra",
		"plain/stage":                  "{n} de {of}, {name}.",
		"plain/ambient":                "CO ambiente {v} ppm, hace {min} min.",
		"plain/ambient-over":           "CO ambiente fuera de rango, hace {min} min.",
		"plain/ambient-old":            "CO ambiente de hace {min} min: léalo.",
		"plain/ambient-unread":         "CO ambiente sin leer.",
		"plain/ambient-unread-burning": "CO ambiente sin leer: léalo.",
		"plain/light":                  "Enter cuando enciende el quemador principal.",
		"plain/lit":                    "encendió {at}. Enter cuando aspira el humo y lo mantiene; s aún derrama; x apagar; /c 12 anota CO.",
		"plain/drawn":                  "aspirado a los {s} s. ok guarda; a volvió; o escriba el tiempo.",
		"plain/at":                     "{s} s.",
		"plain/limit-at":               "{s} s, límite. Más cuenta como fallo. Siga mirando; s termina.",
		"plain/no-why":                 "no hay más escrito sobre esto.",
		"plain/cut":                    "la última línea no tenía fin, así que no es respuesta.",
		"plain/net":                    "{net} Pa, más o menos {u}",
		"plain/limit":                  "; límite {letter} {text}: {side}",

		"label/stage": "etapa", "label/mark": "marca", "label/ask": "pregunta", "label/item": "línea", "label/choice": "opción", "label/house now": "casa ahora", "label/held at worst case": "en el peor caso", "label/set to": "poner", "label/may still be": "quizá sigue",
		"label/net": "neta", "label/keys": "teclas", "label/was": "era", "label/why": "por qué", "label/do": "hacer", "label/decision": "decisión", "label/put back": "restablecer", "label/holds": "vale", "label/text": "texto",
		"label/clock": "reloj", "label/bell": "campana", "label/stopped": "parado", "label/danger": "peligro", "label/warning": "advertencia", "label/caution": "precaución", "label/notice": "aviso",
		"label/message": "mensaje", "label/waiting": "espera", "label/next": "siguiente", "label/report": "informe", "label/not kept": "no guardado", "label/kept": "guardado", "label/closed": "cerrado", "label/record": "registro", "label/register": "registro de casas", "label/supervisor": "supervisión",

		"signal/DANGER": "PELIGRO", "signal/WARNING": "ADVERTENCIA", "signal/CAUTION": "PRECAUCIÓN", "signal/NOTICE": "AVISO",

		"not-kept": "NO GUARDADO  {text}",
	}
})
