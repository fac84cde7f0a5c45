"""The outside sources the tables rest on, written once and named beside every value.

Most pages were read as excerpts or secondary copies, not as whole originals. "From memory" marks
a source that is believed to say so but could not be read. Licensed clinicians, local rules and
the instructions for use of the product in hand always come first.
"""

from __future__ import annotations

COMMON_PRACTICE = "common practice, no source"
DERIVED = "derived arithmetic"

# Teeth and cavities
ISO_3950 = "ISO 3950:2016, Designation system for teeth and areas of the oral cavity (from memory)"
TOOTH_NUMBERING = "forensicspot.com, tooth numbering systems; pocketdentistry.com, dentition"
PRIMARY_LETTERS = "liquisearch.com, maxillary central incisor, notation"
ERUPTION = "eruption chart of a national dental association (from memory)"
TOOTH_TABLE = f"{DERIVED} from {TOOTH_NUMBERING}"
CAVITY_CLASSES = "dentaldevotee.com, cavity classification, 2017, and a second teaching page (web)"
CAVITY_CLASS_SIX = "dentaldevotee.com, cavity classification, 2017; freezingblue.com set 106510"
SURFACE_LETTERS = "procedure-code and teaching usage of surface letters (from memory)"

# Matrix and wedge
MATRIX_CARDS = "knowt.com, teaching cards on class II matrices"
MATRIX_HOW_TO = "assisting course page, how-to on the matrix band (web)"
MATRIX_AMALGAM = "mydentalkey.com, class II amalgam restoration"
MATRIX_LECTURE = "brainscape.com, lecture cards 6822942"
MATRIX_PLACEMENT = "wiki.dentalpanda.net, matrix placement"
MATRIX_TEXTBOOK = "operative dentistry textbooks (from memory)"

# Rubber dam
DAM_CLAMPS = "allendodontics.blogspot.com, rubber dam clamps, November 2011"
DAM_ANCHOR = "continuing-education article, rubber dam part 4, August 2024 (web)"
DAM_FIT = "stuvia document 10890705"
DAM_HOLES = "assisting textbooks (from memory)"
DAM_SPACING = "dentistryiq.com, dam placement, 2003"
DAM_CLAMP_LIST = f"{DAM_CLAMPS}; trade numbering (from memory)"
CDC_2003 = "CDC MMWR 52(RR-17), 2003 (from memory)"
DAM_BREATHING = "endodontic and paediatric dam guidance (from memory)"
LOST_OBJECT = "Gen Dent 2008;56:691 (PMID 19014028); Australian oral and dental guidelines"

# Liners
LINER_REVIEW = "Clin Cosmet Investig Dent 2017, calcium hydroxide liners review"
LINER_STATEMENT = "Aust Dent J 2011;56(S1):11"
LINER_ORDER = "studystack.com, flashcards 597726; assisting textbooks (from memory)"
LINER_DEPTHS = "operative dentistry textbook tables (from memory)"
EUGENOL = "J Esthet Restor Dent 2007 (eugenol and resin)"
EUGENOL_MIXED = f"{EUGENOL}; bond strength studies disagree"
VARNISH = "assisting textbooks (from memory)"

# Etch and bond
ADHESIVE_TABLE = "ACS Omega 2021, PMC8158842, table 4"
ETCH_NOTES = "scribd 431071973, etching notes"
SELECTIVE_ETCH = "teaching page on selective etching (web)"
PRIMARY_ETCH = "review page on etching time of primary teeth (web)"
REETCH = "mightytoothcurriculum.com, module 4; dentalcare.com ce128"
CONDITIONER = "teaching page on glass ionomer, 20 % acid for 10 s (web)"

# Light
LIGHT_TARGET = "scielo.br S1806-83242015000100257 (16 J/cm2)"
LIGHT_CONSENSUS = "2014 consensus on light curing, dentistry.uiowa.edu"
LIGHT_CONVENTION = "practice convention of 400 mW/cm2, not an ISO limit (from memory)"
BULK_FILL = "he02.tci-thaijo.org mdentjournal 198068"
INCREMENTS = f"PMC5608064; {BULK_FILL}"
LIGHT_UNDERDOSE = "Oper Dent 33-4 p408"
LIGHT_DISTANCE = "IADR 2013 abstract 176031"
LIGHT_HEAT = "Oper Dent 35-2 p220"
LIGHT_EYES = "blue-light hazard review, scribd 607287117"
LIGHT_FORMULA = "radiant exposure = irradiance x time (definition)"
ISO_4049 = "ISO 4049, as read on a secondary page (web)"

# Amalgam
AMALGAM_DATA = "capsule data page (web) (ISO 24234 values)"
AMALGAM_TEACHING = "dentistry.uiowa.edu, dental amalgam"
AMALGAM_SEQUENCE = "coconote.app transcript 7fd31740; fliphtml5.com Operative Dentistry 2013 p258"
AMALGAM_SUPPLY = "ISO 24234:2015 scope, iTeh preview"
AMALGAM_WASTE = "padental.org and cda.org, amalgam best management practices"
ISO_24234_2004 = "ISO 24234:2004 (from memory)"

# Law
EU_2017_852 = "Regulation (EU) 2017/852 art. 10, as amended by (EU) 2024/1849"
EU_2024_1849 = "Regulation (EU) 2024/1849 of 13 June 2024, OJ 10 July 2024"
NI_NOTICE = "Commission notice C/2024/4675 of 19 July 2024; end date from memory, check"
FDA_2020 = "US FDA recommendations of 24 September 2020"
EPA_441 = "40 CFR 441, Federal Register 14 June 2017"
MINAMATA_COP4 = "Minamata Convention COP-4, decision 4/2, March 2022"
MINAMATA_COP6 = 'Minamata COP-6, November 2025: "by 2034"; EU service: "by 1 January 2035"'

# Local anaesthesia (generic labels)
LIDOCAINE_LABEL = "published generic lidocaine with epinephrine label"
ARTICAINE_LABEL = "published generic articaine with epinephrine label"
MEPIVACAINE_LABEL = "published generic mepivacaine label"
PRILOCAINE_LABEL = "published generic prilocaine label"
BUPIVACAINE_LABEL = (
    "published dose tables for bupivacaine (html5.dcatalog.com; dentalcare.com ce646)"
)
DOSE_TABLES = "html5.dcatalog.com p27-29, published dose tables"
AUSTRALIAN_DOSES = "pharmacology-notes-free.blogspot.com, Australian dose table, 2011"
AAPD_DOSES = f"AAPD table (from memory); {AUSTRALIAN_DOSES}"
PAEDIATRIC_DOSES = "PMC9379193 table 1"
ARTICAINE_DOSES = "drugs.com, articaine dosage"
AUSTRALIAN_GUIDELINE = "Australian oral and dental guidelines, local anaesthetics"
VASOCONSTRICTOR = "dentalcare.com ce547 table 3"
HEART_LIMIT = "secondary page, 2025 (web); dentalcare.com ce646 gives 0.02-0.05 mg"
LEVONORDEFRIN_HEART = "local anaesthesia handbook (from memory)"
MIXED_DRUGS = "sum-of-fractions rule, paediatric sedation guidance (secondary)"
INFANT_RULE = "amides less 30 % under six months (secondary)"

# Finish and advice
SHADE = "Compendium May 2022; dentalassistant.org, shade tips, 1999"
MARKING_FILM = "Int J Prosthodont 2015;28:360"
MARK_SIZE = "PMC2581523"
FINISHING = "quizgecko.com finishing set; scribd 98849783"
NUMBNESS = "dentalcare.com ce325"
NUMB_CHILD = "three paediatric advice pages (web)"
EATING = "cram.com 5161189 (few hours); advice pages (web): 8 h, 24 h"
COMPOSITE_SETS = "patient advice page (web)"
FLUSH = "CDC 2003, as quoted by two trade pages (web)"

# Cements
ISO_9917 = "ISO 9917-1:2007 (from memory)"
ISO_3107 = "ISO 3107:2011 (numbers from memory, low confidence)"
