// Made by scripts/make_page_types.py from the server's models; don't edit it here.

/** What can be done with a thing, and what to mind before it is done in earnest. */
export interface Action {
  label: string;
  action: "take off" | "put on";
  name: string;
  caution: string;
}

/** Devices in series with the fault current on them. */
export interface CurveAnswer {
  format: "bondwright/page-curve";
  version: 1;
  svg: string;
  alt: string;
  rows: Array<Figure>;
}

/** A mistake that could be made, with what it would do. */
export interface DefectInfo {
  name: string;
  at: string;
  rank: string;
  mark: string;
  fault: string;
  day: string;
  found_by: string;
  told: Array<string>;
}

/** Every mistake tried, the silent and deadly ones first. */
export interface DefectsResult {
  kind: "defects";
  tried: number;
  faults: number;
  cases: number;
  rows: Array<DefectInfo>;
}

/** A change of the working copy, and what is to be shown afterwards. */
export interface EditRequest {
  action: "take off" | "put on" | "undo" | "redo" | "start over" | "keep ties";
  name: string;
  view: ViewRequest;
}

/** What is different from the file: ties that are tried out, and what was described anew. */
export interface EditsInfo {
  done: Array<string>;
  described: Array<string>;
  can_undo: boolean;
  can_redo: boolean;
  undoes: string;
  unsaved: boolean;
}

/** A fault that can be played. */
export interface FaultChoice {
  key: string;
  name: string;
}

/** A fault that was followed. */
export interface FaultTold {
  key: string;
  name: string;
  verdict: string;
  mark: string;
  numbers: Array<Figure>;
  steps: Array<StepInfo>;
  light: Light;
}

/** Where faults can be played, and of which kinds. */
export interface FaultsAnswer {
  format: "bondwright/page-faults";
  version: 1;
  places: Array<string>;
  at: string;
  choices: Array<FaultChoice>;
}

/** A figure for a person, and why it is so. */
export interface Figure {
  label: string;
  value: string;
  why: Array<string>;
  loud: boolean;
}

/** Something to be known or mended. */
export interface FindingInfo {
  severity: string;
  mark: string;
  where: string;
  title: string;
  text: string;
  cure: string;
  clause: string;
}

/** What is known to fall short. */
export interface FindingsAnswer {
  format: "bondwright/page-findings";
  version: 1;
  whole: boolean;
  note: string;
  findings: Array<FindingInfo>;
}

/** A current in normal use and in the chosen fault. */
export interface FlowRow {
  what: string;
  normal: string;
  fault: string;
  why: Array<string>;
  loud: boolean;
}

/** Something that can be folded away: a building, or what a place feeds. */
export interface Fold {
  id: string;
  kind: "building" | "branch";
  count: number;
  places: Array<string>;
  boxes: Array<[number, number, number, number]>;
}

/** The ground in the faults that lift metal highest: how it stands. */
export interface GroundResult {
  kind: "ground";
  faults: number;
  verdict: string;
  mark: string;
}

/** Work in the background: how far it is, or what came of it. */
export interface JobAnswer {
  format: "bondwright/page-job";
  version: 1;
  id: string;
  kind: string;
  status: "running" | "done" | "failed" | "cancelled";
  what: string;
  done: number;
  of: number;
  seconds: number;
  problem: string;
  result: DefectsResult | StudyResult | GroundResult | null;
}

/** Long work to be done in the background. */
export interface JobRequest {
  kind: "defects" | "whole study" | "ground";
  state: string;
}

/** The light of a fault's way, as SVG: under the ribbons and over them, out and home. */
export interface Light {
  under_out: string;
  under_home: string;
  over_out: string;
  over_home: string;
  flash: string;
}

/** A way to another thing. */
export interface Link {
  label: string;
  kind: string;
  id: string;
}

/** A supply's neutral open: what metal stands at, as a plot; none where none could open. */
export interface OpenNeutralAnswer {
  format: "bondwright/page-open-neutral";
  version: 1;
  runs: Array<string>;
  run: string;
  told: Array<string>;
  svg: string;
}

/** The picture: painted once, changed later by element id. */
export interface PictureAnswer {
  format: "bondwright/page-picture";
  version: 1;
  drawing: number;
  form: "page" | "phone";
  width: number;
  height: number;
  alt: string;
  layers: Array<string>;
  pieces: Array<PieceInfo>;
  overview: string;
  boxes: Record<string, [number, number, number, number]>;
  folds: Array<Fold>;
  key: string;
}

/** A part of the picture; without ``svg`` it is to be fetched when it comes in sight. */
export interface PieceInfo {
  layer: string;
  box: [number, number, number, number];
  svg: string | null;
}

/** What is wrong with a request, and what would be right. */
export interface ProblemInfo {
  text: string;
  problem: string;
  hint: string | null;
  path: Array<string | number>;
  line: number;
  column: number;
}

/** An answer that is none. */
export interface Problems {
  format: "bondwright/problems";
  version: 1;
  problems: Array<ProblemInfo>;
}

/** The schedule of jumpers and conductors, with what was assumed. */
export interface ScheduleAnswer {
  format: "bondwright/page-schedule";
  version: 1;
  rows: Array<ScheduleRowInfo>;
  assumed: Array<string>;
}

/** A row of the schedule of jumpers and conductors. */
export interface ScheduleRowInfo {
  id: string;
  short: string;
  purpose: string;
  start: string;
  end: string;
  required: string;
  chosen: string;
  origin: string;
  clause: string;
  verdict: string;
  mark: string;
  remark: string;
  why: Array<string>;
  thing: Target | null;
}

/** The site: what the page needs to begin. */
export interface SiteAnswer {
  format: "bondwright/page-site";
  version: 1;
  tool: string;
  site: string;
  file: string;
  rules: string;
  describes: string;
  note: string;
  states: Array<StateInfo>;
  things: Array<ThingInfo>;
  edits: EditsInfo;
  caution: string;
  cautions: Array<string>;
}

/** A way the site is run, and what is on in it. */
export interface StateInfo {
  id: string;
  on: Array<string>;
}

/** One step of a fault that is played. */
export interface StepInfo {
  sight: string;
  title: string;
  sentences: Array<string>;
  things: Array<Target>;
  clock: string;
}

/** Why a tie matters, told with numbers. */
export interface StoryAnswer {
  format: "bondwright/page-story";
  version: 1;
  story: StoryInfo;
}

/** A result in words, with how it stands. */
export interface StoryInfo {
  title: string;
  sentences: Array<string>;
  verdict: string;
  mark: string;
}

/** Normal use: every current on metal with its cause, its loop and its cure. */
export interface StrayAnswer {
  format: "bondwright/page-stray";
  version: 1;
  story: StoryInfo;
  rows: Array<StrayRow>;
}

/** A current on metal in normal use, with its loop. */
export interface StrayRow {
  on: string;
  current: string;
  share: string;
  nature: string;
  loud: boolean;
  causes: Array<string>;
  told: string;
  loop: Array<string>;
  things: Array<Target>;
}

/** The whole study: how the site stands. */
export interface StudyResult {
  kind: "whole study";
  headline: string;
  verdict: string;
  mark: string;
  sentences: Array<string>;
}

/** A thing to be pointed at. */
export interface Target {
  kind: string;
  id: string;
}

/** A thing: what it is, its size and why, what flows, what falls short. */
export interface ThingAnswer {
  format: "bondwright/page-thing";
  version: 1;
  kind: string;
  id: string;
  title: string;
  about: string;
  facts: Array<Figure>;
  sizes: Array<StoryInfo>;
  flows: Array<FlowRow>;
  findings: Array<FindingInfo>;
  links: Array<Link>;
  actions: Array<Action>;
  faults: Array<FaultChoice>;
  story: boolean;
}

/** A thing to be searched for: what it is, and where it is seen. */
export interface ThingInfo {
  kind: string;
  id: string;
  about: string;
  near: string;
}

/** What is different in the picture, and what is said about it. */
export interface ViewAnswer {
  format: "bondwright/page-view";
  version: 1;
  name: string;
  drawing: number;
  state: string;
  show: "nothing" | "normal" | "fault";
  changes: Array<[string, Record<string, string | number>]>;
  headline: string;
  verdict: string;
  mark: string;
  live: Array<string>;
  fault: FaultTold | null;
  edits: EditsInfo;
}

/** What a page wants to show, and the name of what it shows now. */
export interface ViewRequest {
  form: "page" | "phone";
  state: string;
  show: "nothing" | "normal" | "fault";
  fault: string;
  have: string;
}

/** A bundle of jobs, in base 64. */
export interface BundleRequest {
  file: string;
}

/** What is wrong with a text that isn't taken over yet. */
export interface CheckAnswer {
  format: "bondwright/page-check";
  version: 1;
  problems: Array<ProblemInfo>;
}

/** A circuit as understood. */
export interface CircuitRow {
  numbers: string;
  what: string;
  device: string;
  poles: string;
  load: string;
  wire: string;
  length: string;
  where: string;
}

/** What differs between two descriptions, and what that changes. */
export interface CompareAnswer {
  format: "bondwright/page-comparison";
  version: 1;
  before: string;
  after: string;
  parts: Array<ComparePart>;
  new: Array<FindingInfo>;
  gone: Array<FindingInfo>;
}

/** One head of a comparison with its lines. */
export interface ComparePart {
  head: string;
  lines: Array<string>;
}

/** Changes of the description that are made together. */
export interface DescribeRequest {
  changes: Array<EntryChange>;
  view: ViewRequest;
}

/** What is described, table by table. */
export interface DescriptionAnswer {
  format: "bondwright/page-description";
  version: 1;
  tables: Array<TableInfo>;
}

/** An entry as it is written, and what would go with it. */
export interface EntryAnswer {
  format: "bondwright/page-entry";
  version: 1;
  table: string;
  id: string;
  entry: Record<string, any>;
  hanging: Array<string>;
}

/** One entry that is to be written, renamed or taken out. */
export interface EntryChange {
  table: string;
  was: string;
  id: string;
  entry: Record<string, any> | null;
}

/** An entry in a list: its name, and what it is in a line. */
export interface EntryRow {
  id: string;
  about: string;
}

/** A field of a form: what it is called, how it is written, what may stand there. */
export interface FieldInfo {
  key: string;
  label: string;
  help: string;
  kind: string;
  words: Array<string>;
  example: string;
  required: boolean;
  main: boolean;
  offers: Array<string>;
  of: Array<string>;
  fields: Array<FieldInfo>;
}

/** A form: the fields of one kind of thing. */
export interface FormInfo {
  table: string;
  one: string;
  title: string;
  about: string;
  fields: Array<FieldInfo>;
}

/** Every form there is. */
export interface FormsAnswer {
  format: "bondwright/page-forms";
  version: 1;
  forms: Array<FormInfo>;
  starters: Record<string, string>;
}

/** A job with its newest revision. */
export interface JobInfo {
  id: string;
  name: string;
  newest: RevisionInfo;
  unsaved: boolean;
}

/** The jobs of the store. */
export interface JobsAnswer {
  format: "bondwright/page-jobs";
  version: 1;
  who: string;
  role: string;
  users: boolean;
  jobs: Array<JobInfo>;
  notice: string;
  wants_factor: boolean;
  starters: Record<string, string>;
}

/** Where the working copy is kept, and whether it is. */
export interface KeptAnswer {
  format: "bondwright/page-kept";
  version: 1;
  kind: "none" | "file" | "job";
  where: string;
  revision: number;
  new: boolean;
  unsaved: boolean;
  elsewhere: string;
  who: string;
  may_save: boolean;
  why: string;
  home: boolean;
}

/** A row that was left out, or is no circuit. */
export interface LeftRow {
  where: string;
  text: string;
  problem: string;
}

/** Who wants to get in. */
export interface LoginRequest {
  name: string;
  password: string;
  code: string;
}

/** A job to be started: from a starter, or from a site file. */
export interface NewJobRequest {
  name: string;
  why: string;
  starter: string;
  text: string;
}

/** A new password of one's own. */
export interface PasswordRequest {
  before: string;
  after: string;
  code: string;
}

/** A new name for a job. */
export interface RenameRequest {
  name: string;
}

/** A revision of a job. */
export interface RevisionInfo {
  number: number;
  at: string;
  who: string;
  why: string;
}

/** The revisions of a job, the oldest first. */
export interface RevisionsAnswer {
  format: "bondwright/page-revisions";
  version: 1;
  name: string;
  revisions: Array<RevisionInfo>;
}

/** The working copy is to be kept, with the reason; or theirs is to be taken first. */
export interface SaveRequest {
  why: string;
  mine: boolean;
  view: ViewRequest;
}

/** A panel schedule as understood: every row is in one of the lists. */
export interface ScheduleReadAnswer {
  format: "bondwright/page-schedule-read";
  version: 1;
  sheets: Array<string>;
  circuits: Array<CircuitRow>;
  adds: Array<string>;
  doubts: Array<LeftRow>;
  remarks: Array<LeftRow>;
}

/** A panel schedule: pasted text, or a file in base 64, and what to take where it is silent. */
export interface ScheduleRequest {
  panel: string;
  text: string;
  file: string;
  name: string;
  sheet: string;
  length: string;
  wire: string;
  metal: "" | "Cu" | "Al";
  add: boolean;
  view: ViewRequest;
}

/** What is described of one kind. */
export interface TableInfo {
  table: string;
  rows: Array<EntryRow>;
}

/** The site file as described now. */
export interface TextAnswer {
  format: "bondwright/page-text";
  version: 1;
  text: string;
}

/** The whole file, as a person wrote it; or a starter to begin anew from. */
export interface TextRequest {
  text: string;
  starter: string;
  view: ViewRequest;
}

/** Somebody known. */
export interface UserInfo {
  name: string;
  role: "look" | "edit" | "keep";
  factor: boolean;
}

/** Somebody to be let in, or of whom something changes; nothing given stays as it is. */
export interface UserRequest {
  name: string;
  role: "look" | "edit" | "keep" | null;
  password: string | null;
  new: boolean;
  no_factor: boolean;
}

/** Everybody known. */
export interface UsersAnswer {
  format: "bondwright/page-users";
  version: 1;
  who: string;
  users: Array<UserInfo>;
}

/** A drawing, and what it shows in words. */
export interface Drawn {
  svg: string;
  alt: string;
  caption: string;
}

/** The earth of the site. */
export interface EarthAnswer {
  format: "bondwright/page-earth";
  version: 1;
  soil: string;
  assumed: boolean;
  seasons: Array<string>;
  story: StoryInfo | null;
  plan: Drawn | null;
  electrodes: Array<ElectrodeInfo>;
  faults: Array<GroundFaultInfo> | null;
  note: string;
  tests: Array<EarthTestInfo>;
  caution: string;
}

/** A field test, judged. */
export interface EarthTestInfo {
  id: string;
  story: StoryInfo;
  facts: Array<Figure>;
  head: Array<string>;
  rows: Array<Array<string>>;
  plot: Drawn | null;
}

/** An electrode, or a neighbour's metal. */
export interface ElectrodeInfo {
  id: string;
  kind: string;
  about: string;
  resistance: string;
  facts: Array<Figure>;
  mutual: Array<Figure>;
  brings: Array<string>;
  place: Target | null;
}

/** What a fault does to the ground. */
export interface GroundFaultInfo {
  name: string;
  story: StoryInfo;
  figures: Array<Figure>;
  maps: Array<MapInfo>;
}

/** What a field test says, and its lines for the site file. */
export interface JudgeAnswer {
  format: "bondwright/page-earth-test";
  version: 1;
  test: EarthTestInfo;
  lines: string;
}

/** A field test as it was typed in: keys and texts as they stand in a site file. */
export interface JudgeRequest {
  kind: string;
  values: Record<string, string | boolean>;
  of: Array<string>;
  readings: Array<Record<string, string>>;
  form: "page" | "phone";
}

/** The ground from above with a voltage. */
export interface MapAnswer {
  format: "bondwright/page-earth-map";
  version: 1;
  drawn: Drawn;
  figures: Array<Figure>;
}

/** A part of the ground that can be looked at. */
export interface MapInfo {
  name: string;
  metal: string;
}

/** A reading to take next, in plain words, with all that its row needs but the value. */
export interface AskInfo {
  what: string;
  where: string;
  of: string;
  state: string;
  meter: string;
  meters: Array<string>;
  title: string;
  in_state: string;
  instrument: string;
  units: Array<string>;
  over: boolean;
  expect: Array<string>;
  cautions: Array<string>;
  target: Target | null;
}

/** Something that may be wrong: how likely, and what speaks for it and against. */
export interface CauseInfo {
  name: string;
  share: number;
  percent: string;
  told: Array<string>;
  targets: Array<Target>;
}

/** Something to choose, with what it says to a person. */
export interface Choice {
  value: string;
  label: string;
}

/** The hunt: what was written down, and what it says. */
export interface HuntAnswer {
  format: "bondwright/page-hunt";
  version: 1;
  born: string;
  notes: Array<Note>;
  problems: Array<NoteProblem>;
  status: "ranking" | "ready" | "failed" | "cancelled";
  seconds: number;
  problem: string;
  result: HuntResult | null;
  cautions: Array<string>;
}

/** What a reading of one's own can be of. Nothing in it lifts a conductor. */
export interface HuntForm {
  format: "bondwright/page-hunt-form";
  version: 1;
  quantities: Array<QuantityInfo>;
  states: Array<Choice>;
}

/** What the readings say so far. */
export interface HuntResult {
  readings: number;
  headline: string;
  stands_out: boolean;
  fits_nothing: boolean;
  contradictions: Array<string>;
  planes: Array<PlaneInfo>;
  causes: Array<CauseInfo>;
  cure: string;
  lessons: Array<string>;
  asks: Array<AskInfo>;
}

/** One reading as it was written down. */
export interface Note {
  key: string;
  what: string;
  where: string;
  of: string;
  value: string;
  state: string;
  meter: string;
  time: string;
  note: string;
}

/** Why a reading can't be used, and what would be right. */
export interface NoteProblem {
  key: string;
  field: string;
  text: string;
  problem: string;
  hint: string;
}

/** Readings to be kept, and those to be forgotten. */
export interface NotesRequest {
  notes: Array<Note>;
  forget: Array<string>;
}

/** Voltages at one place as points in the plane: the picture, and what it shows in words. */
export interface PlaneInfo {
  name: string;
  svg: string;
  told: Array<string>;
}

/** A sort of reading: where it can be taken, in which units, and with what. */
export interface QuantityInfo {
  what: string;
  about: string;
  units: Array<string>;
  over: boolean;
  meters: Array<string>;
  wheres: Array<WhereInfo>;
}

/** A place, run or other thing that can be read at, and what of it. */
export interface WhereInfo {
  id: string;
  of: Array<string>;
}

/** A story, computed: its pictures and its scenes. */
export interface LessonAnswer {
  format: "bondwright/page-lesson";
  version: 1;
  id: string;
  title: string;
  models: Array<string>;
  pictures: Array<PictureAnswer>;
  scenes: Array<SceneInfo>;
  lesson: Array<string>;
  caution: string;
}

/** An answer to choose, whether it is right, and what there is to say to it. */
export interface OptionInfo {
  text: string;
  right: boolean;
  told: string;
}

/** A question with answers to choose from. */
export interface QuestionInfo {
  text: string;
  options: Array<OptionInfo>;
}

/** A scene: what the picture shows, what is told, and the question it ends with. */
export interface SceneInfo {
  title: string;
  sentences: Array<string>;
  headline: string;
  verdict: string;
  mark: string;
  picture: number;
  changes: Array<[string, Record<string, string | number>]>;
  light: Light | null;
  opened: boolean;
  points: Array<Target>;
  question: QuestionInfo | null;
}

/** Every story. */
export interface StoriesAnswer {
  format: "bondwright/page-lessons";
  version: 1;
  stories: Array<StoryTitle>;
  caution: string;
}

/** A story that can be opened. */
export interface StoryTitle {
  id: string;
  title: string;
  about: string;
}

/** Where somebody is told by mail; to whoever keeps the users also what couldn't be sent. */
export interface MailAnswer {
  format: "bondwright/page-mail";
  version: 1;
  who: string;
  mail: string;
  sends: boolean;
  troubles: Array<string>;
}

/** Another address, or none. */
export interface MailRequest {
  password: string;
  code: string;
  mail: string;
}

/** Somebody agrees to the text with that mark. */
export interface AgreeRequest {
  to: string;
}

/** The code that an app shows. */
export interface CodeRequest {
  code: string;
}

/** The secret for an app, told this once; ``picture`` is where its QR code is. */
export interface FactorAnswer {
  format: "bondwright/page-factor";
  version: 1;
  secret: string;
  address: string;
  picture: string;
}

/** Who is in, and how far. */
export interface InAnswer {
  format: "bondwright/page-in";
  version: 1;
  who: string;
  stage: "out" | "code" | "agree" | "factor" | "in";
}

/** Somebody leaves, with their name beside what they saved or without. */
export interface LeaveRequest {
  password: string;
  code: string;
  forget_name: boolean;
}

/** All that is kept of people, who answers for it, and the mark of this text. */
export interface PolicyAnswer {
  format: "bondwright/page-kept-of-people";
  version: 1;
  about: Array<string>;
  rows: Array<PolicyRow>;
  answers: string;
  backups: string;
  more: string;
  mark: string;
}

/** Something that is kept of people: what, why and how long. */
export interface PolicyRow {
  what: string;
  why: string;
  long: string;
}

/** Spare codes, which are told this once. */
export interface SpareAnswer {
  format: "bondwright/page-spare";
  version: 1;
  codes: Array<string>;
}

/** It is oneself: the password, and a code where one has a second factor. */
export interface SureRequest {
  password: string;
  code: string;
}

/** Oneself. */
export interface YouAnswer {
  format: "bondwright/page-you";
  version: 1;
  who: string;
  role: "look" | "edit" | "keep";
  factor: boolean;
  spare_left: number;
  agreed: string;
}

/** What an electrode conductor need not exceed. */
export interface CapInfo {
  rules: string;
  electrode: string;
  metal: string;
  size: string;
  clause: string;
  status: string;
}

/** Where an edition says something. */
export interface ClauseInfo {
  rules: string;
  key: string;
  clause: string;
  status: string;
  choice: string;
}

/** A row that is entered with the rating of the device ahead. */
export interface DeviceRow {
  metal: string;
  upto: number;
  size: string;
  status: string;
}

/** What to do with a bonding screw. */
export interface ScrewInfo {
  screw: string;
  clause: string;
  severity: string;
  because: Array<string>;
  do: Array<string>;
  ask: Array<string>;
}

/** Every answer about a bonding screw by an edition. */
export interface ScrewsInfo {
  rules: string;
  questions: Array<string>;
  answers: Array<ScrewInfo>;
  index: Record<string, number>;
}

/** A table to look at. */
export interface SheetInfo {
  id: string;
  family: string;
  title: string;
  head: Array<string>;
  rows: Array<Array<string>>;
  source: string;
  note: string;
}

/** A conductor size and its area, circular mils. */
export interface SizeInfo {
  name: string;
  cmil: number;
}

/** A row that is entered with the supply's area; ``upto`` is None in the last. */
export interface SupplyRow {
  supply: string;
  metal: string;
  upto: number | null;
  label: string;
  size: string | null;
  part: number | null;
  status: string;
}

/** All that is wanted at a panel without a signal, out of the catalog. */
export interface TablesAnswer {
  format: "bondwright/page-tables";
  version: 1;
  tool: string;
  rules: Array<string>;
  usual: string;
  sizes: Array<SizeInfo>;
  most_sets: number;
  jumper: Array<SupplyRow>;
  electrode: Array<SupplyRow>;
  caps: Array<CapInfo>;
  ground: Array<DeviceRow>;
  clauses: Array<ClauseInfo>;
  screws: Array<ScrewsInfo>;
  sheets: Array<SheetInfo>;
  cautions: Array<string>;
}
