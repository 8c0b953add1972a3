"""A collection folder: `catalogue.sqlite`, `photos/` (originals), `derived/` (rebuildable), `exports/`.

::

    with Catalogue.open(folder, create=True) as cat:
        with cat.transaction(by="M. Oduya"):
            cat.ensure_lot("B-03", site="Kestrel Ford")

Reading needs nothing; every write happens inside ``cat.transaction(by=...)`` (RuntimeError otherwise) and is
everything or nothing, files included. Transactions nest (the inner one joins the outer one); reads inside one
see its writes. One Catalogue may be shared by threads, each with its own transaction.

Sherds are named by catalogue number, lots and sites by name, photos by photo_id or sha256. Wherever a name is
unknown: UnknownName with the nearest names.

===========  ===================================================================================================
sites, lots  ensure_site, sites, ensure_lot, lot, lots, set_site
photos       add_photo, photo, photo_by_hash, photos, photo_file, set_scale, move_photo
sherds       add_sherd, sherd, sherds, replace_outline, drop_sherd, merge_sherds, split_sherd, set_rim_up,
             accept_outline
derived      save_crop, crop, crop_file, save_measurements, measurements, measurements_of, save_vectors, vectors
the word     tell, links, withdraw, attribute, withdraw_attribution, attributions
proposals    save_proposal, latest_proposal
views        add_view, pair_view, drop_view, view, views
rims         record_rim, withdraw_rim, rims
labels       propose_label, settle_label, label, labels, renumber
tags         add_tag, remove_tag, tags, tags_of, refuse_tag, refused_tags_of
comparanda   keep_comparandum, drop_comparandum, comparandum, comparanda_lists, comparanda_in, comparanda_kept_for
sorting      sherd_numbers, leave_open, ask_again, open_pairs, lock_vessel, unlock_vessel, locks
joins        judge_join, withdraw_join_word, join_words
mending      place_sherd, withdraw_placement, placements, add_treatment, withdraw_treatment, treatments, record_form,
             withdraw_form, vessel_form
vocabulary   terms, add_terms, replace_term, drop_term
second look  add_second_look, second_looks, second_look, answer_second_look, second_answers
contact      sherd_lines, tag_counts, lot_tallies
lists        sherd_heads, catalogue_list, scales
learners     keep_turn, turns, keep_answer, quiz_cards, quiz_answers
records      save_record, save_records, withdraw_record, record, records, known_numbers
restricted   restrict, lift_restriction, restrictions, withheld, unlock, seeing_all, covered_outlines
whole        schema, all_rows, is_empty, restore_rows
upkeep       version, history, undo, redo, next_undo, next_redo, check, backup
===========  ===================================================================================================
"""

from motifs.catalogue.comparanda import Citation, ComparandaListRow, ComparandaLists, ComparandumRow
from motifs.catalogue.contact import ContactSheet, SherdFilter, SherdLine, SherdPage
from motifs.catalogue.heads import CatalogueList, Heads, ListedTag, SherdHead
from motifs.catalogue.joins import JoinWordRow, JoinWords
from motifs.catalogue.labels import LabelRow, Labels
from motifs.catalogue.learners import ExerciseTurnRow, Learners, QuizAnswerRow, QuizCardRow
from motifs.catalogue.mending import TREATMENT_KINDS, FormRow, Mending, PlacementRow, TreatmentRow, checked_profile
from motifs.catalogue.names import check_name
from motifs.catalogue.records import NUMBER_FIELDS, RECORD_FIELDS, RecordRow, Records
from motifs.catalogue.restrictions import GROUNDS, SUBJECTS, RestrictionRow, Restrictions
from motifs.catalogue.rims import RIM_METHODS, RimReading, RimRow, Rims
from motifs.catalogue.rows import (
    FINDING_KINDS,
    TAG_KINDS,
    AttributionRow,
    BoxPx,
    EventRow,
    Finding,
    Json,
    LinkRow,
    LotRow,
    Measurement,
    PhotoRow,
    ProposalRow,
    SherdRow,
    SiteRow,
    TagRow,
)
from motifs.catalogue.second_looks import FirstLook, SecondAnswerRow, SecondLookRow, SecondLooks
from motifs.catalogue.sherds import SherdPiece
from motifs.catalogue.sorting_words import LockRow, OpenPairRow, SortingWords
from motifs.catalogue.tallies import LotTally, Tallies
from motifs.catalogue.upkeep import Upkeep
from motifs.catalogue.views import VIEW_KINDS, ViewRow, Views
from motifs.catalogue.vocabulary import Vocabulary
from motifs.catalogue.whole import ColumnShape, TableRows, Whole


class Catalogue(
    Upkeep,
    Views,
    Rims,
    Labels,
    ComparandaLists,
    JoinWords,
    Mending,
    Vocabulary,
    SecondLooks,
    SortingWords,
    ContactSheet,
    Heads,
    Learners,
    Tallies,
    Records,
    Restrictions,
    Whole,
):
    """One collection folder, open. Its parts lie one above the other in the modules of this package."""


__all__ = [
    "FINDING_KINDS",
    "GROUNDS",
    "NUMBER_FIELDS",
    "RECORD_FIELDS",
    "RIM_METHODS",
    "SUBJECTS",
    "TAG_KINDS",
    "TREATMENT_KINDS",
    "VIEW_KINDS",
    "AttributionRow",
    "BoxPx",
    "Catalogue",
    "CatalogueList",
    "Citation",
    "ColumnShape",
    "ComparandaListRow",
    "ComparandumRow",
    "EventRow",
    "ExerciseTurnRow",
    "Finding",
    "FirstLook",
    "FormRow",
    "JoinWordRow",
    "Json",
    "LabelRow",
    "LinkRow",
    "ListedTag",
    "LockRow",
    "LotRow",
    "LotTally",
    "Measurement",
    "Mending",
    "OpenPairRow",
    "PhotoRow",
    "PlacementRow",
    "ProposalRow",
    "QuizAnswerRow",
    "QuizCardRow",
    "RecordRow",
    "RestrictionRow",
    "RimReading",
    "RimRow",
    "SecondAnswerRow",
    "SecondLookRow",
    "SherdFilter",
    "SherdHead",
    "SherdLine",
    "SherdPage",
    "SherdPiece",
    "SherdRow",
    "SiteRow",
    "TableRows",
    "TagRow",
    "TreatmentRow",
    "ViewRow",
    "check_name",
    "checked_profile",
]
