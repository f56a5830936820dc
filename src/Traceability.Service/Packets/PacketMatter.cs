using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Records;
using Traceability.Service.Log;

namespace Traceability.Service.Packets;

/// <summary>One unit as the pages read it.</summary>
internal sealed record UnitMatter(string Id, UnitFile File, Judgement Judgement, IReadOnlyList<Record> Records)
{
    public string? Product => File.Drawing?.Fact.Product;

    /// <summary>What of a dossier bears on its unit, counted or set aside, with whatever changes it.</summary>
    public static IReadOnlyList<Record> RecordsOf(Dossier dossier, UnitFile file)
    {
        var kept = file.Entries.SelectMany(e => new[] { e.Original, e.Source }).Concat(file.SetAside.Select(s => s.Record)).DistinctBy(r => r.Id).ToDictionary(r => r.Id);
        // Whoever assembles these records again must come to the same file, so what changes one of them goes along.
        foreach (var change in dossier.Records)
        {
            if (change.Fact is RecordCorrected c && kept.ContainsKey(c.Record)) kept.TryAdd(change.Id, change);
            else if (change.Fact is RecordWithdrawn w && kept.ContainsKey(w.Record)) kept.TryAdd(change.Id, change);
        }

        return [.. kept.Values];
    }
}

/// <summary>What a packet states, gathered and checked once, before any page is laid out.</summary>
internal sealed class PacketMatter
{
    private readonly Dictionary<Guid, int> _lines;
    private readonly Dictionary<Guid, InclusionProof> _proofs;
    private readonly IReadOnlyDictionary<string, string> _names;

    public PacketMatter(PacketRequest request)
    {
        Request = request;
        _names = request.Names ?? new Dictionary<string, string>();
        var problems = new List<PacketProblem>();
        Checkpoint = Check(request, problems);
        Units = [.. request.Units.Select(u => Unit(u, problems))];
        Contract = OneContract(problems);
        Template = request.Template ?? PacketTemplate.For(Contract?.Fact.Agency ?? "");
        Records = [.. Units.SelectMany(u => u.Records).DistinctBy(r => r.Id).OrderBy(r => r.Position).ThenBy(r => r.Id)];
        _lines = Records.Select((r, i) => (r.Id, i)).ToDictionary(x => x.Id, x => x.i + 1);
        _proofs = request.Proofs.DistinctBy(p => p.RecordId).ToDictionary(p => p.RecordId);
        CheckProofs(problems);
        CheckMoment(problems);
        if (!request.Draft) CheckLimits(problems);
        if (problems.Count > 0) throw new PacketRefusedException(problems);
    }

    public PacketRequest Request { get; }

    public Checkpoint Checkpoint { get; }

    public PacketTemplate Template { get; }

    public IReadOnlyList<UnitMatter> Units { get; }

    /// <summary>Every record the packet rests on, by position: the lines of records.jsonl.</summary>
    public IReadOnlyList<Record> Records { get; }

    public Entry<ContractOpened>? Contract { get; }

    public string ContractId => Contract?.Fact.Contract ?? Units[0].File.Assigned?.Contract ?? "not recorded";

    public InclusionProof Proof(Guid record) => _proofs[record];

    public IReadOnlyList<InclusionProof> Proofs => [.. Records.Select(r => _proofs[r.Id])];

    /// <summary>Line of a record in records.jsonl, from 1.</summary>
    public int Line(Guid record) => _lines[record];

    /// <summary>A person by id; with the name where the register gives one for packets.</summary>
    public string Person(string? id) => id is null ? "not named" : _names.TryGetValue(id, out var name) ? $"{name} ({id})" : id;

    /// <summary>Findings that are not settled, over all units.</summary>
    public IEnumerable<(UnitMatter Unit, Finding Finding)> Open =>
        from unit in Units from finding in unit.Judgement.Findings where IsOpen(finding) select (unit, finding);

    /// <summary>Findings settled by a letter or a waiver, and those met on figures that a later result can still change.</summary>
    public IEnumerable<(UnitMatter Unit, Finding Finding)> Exceptions =>
        from unit in Units
        from finding in unit.Judgement.Findings
        where IsException(finding)
        select (unit, finding);

    /// <summary>Holds of steps that were taken, and not on a release that came first, or one that later evidence contradicts.</summary>
    public IEnumerable<(UnitMatter Unit, Hold Hold)> Breaches =>
        from unit in Units
        from hold in unit.Judgement.Holds
        where IsBreach(hold)
        select (unit, hold);

    public static bool IsBreach(Hold hold) =>
        hold.State is HoldState.PassedWithoutRelease or HoldState.CannotTell or HoldState.Overridden || hold.Contradicted || hold.Breach;

    public static IEnumerable<SetAside> Conflicts(UnitMatter unit) =>
        unit.File.SetAside.Where(s => s.Kind is SetAsideKind.Conflict or SetAsideKind.Unreadable);

    public bool AllSettled => !Open.Any() && !Breaches.Any() && !Units.Any(u => Conflicts(u).Any());

    public static bool IsOpen(Finding finding) => !finding.Allows;

    /// <summary>Allowed, and not simply met: a certificate has to name it.</summary>
    public static bool IsException(Finding finding) =>
        finding.Allows && finding.Verdict is not (Verdict.Met or Verdict.NotApplicable);

    /// <summary>The profile's limits a finding was judged by: those its requirement asks for that stand in the cited place.</summary>
    public static IReadOnlyList<Limit> LimitsOf(UnitMatter unit, Finding finding)
    {
        if (finding.Limit.Length == 0) return [];
        var asked = Rules.All.FirstOrDefault(r => r.Id == finding.Requirement)?.Limits ?? [];
        var cited = (unit.File.Profile?.Fact.Limits ?? []).Where(l => l.Source == finding.Source && asked.Contains(l.Key)).ToList();
        var printed = cited.Where(l => l.Printed == finding.Limit).ToList();
        return printed.Count > 0 ? printed : cited;
    }

    /// <summary>
    /// Confirmed is: somebody read it on a named page on a day, or an approved document whose record is in the packet states it.
    /// </summary>
    public static bool IsConfirmed(UnitMatter unit, Finding finding) =>
        finding.Source.Mark == SourceMark.Recorded || (LimitsOf(unit, finding) is { Count: > 0 } limits ? limits.All(IsConfirmed) : finding.LimitConfirmed);

    private static Checkpoint Check(PacketRequest request, List<PacketProblem> problems)
    {
        if (request.Units.Count == 0) throw new PacketRefusedException([new("units", "must name at least one unit", "Name the units by their serials.")]);
        foreach (var twice in request.Units.GroupBy(u => u.Dossier.Unit).Where(g => g.Count() > 1))
            problems.Add(new("units", $"names {twice.Key.Id} {twice.Count()} times", "Name every unit once."));
        if (request.Packet.Length is 0 or > 60 || request.Packet.Any(c => !(char.IsAsciiLetterOrDigit(c) || c is '.' or '-')))
            problems.Add(new("packet", "must be 1 to 60 letters, digits, dots and hyphens", "Choose another packet number."));
        return Checkpoint.Open(request.CheckpointNote, request.LogPublicKey)
            ?? throw new PacketRefusedException([new("checkpoint", "is not signed by the log's key", "Ask for the newest checkpoint of the log and try again.")]);
    }

    private static UnitMatter Unit(PacketUnit unit, List<PacketProblem> problems)
    {
        var id = unit.Dossier.Unit.Id;
        if (unit.Judgement.Unit != unit.Dossier.Unit)
            problems.Add(new("units", $"the judgement of {unit.Judgement.Unit.Id} was given for {id}", "Judge the unit's own dossier."));
        var file = Assemble.Unit(unit.Dossier);
        if (file.Scheduled is null)
            problems.Add(new("units", $"{id} was never scheduled: no record says which drawing and contract it belongs to", "Record unit.scheduled, or correct the serial."));
        return new UnitMatter(id, file, PlantLimits.LeftOut(unit.Judgement, file), UnitMatter.RecordsOf(unit.Dossier, file));
    }

    private Entry<ContractOpened>? OneContract(List<PacketProblem> problems)
    {
        var contracts = Units.Where(u => u.File.Assigned is not null).Select(u => u.File.Assigned!.Value.Contract).Distinct(StringComparer.Ordinal).ToList();
        if (contracts.Count > 1)
            problems.Add(new("units", $"belong to {contracts.Count} contracts: {string.Join(", ", contracts)}", "Issue one packet per contract; a packet never shows another contract's units."));
        var contract = Units.Select(u => u.File.Contract).FirstOrDefault(c => c is not null);
        if (contract is null && contracts.Count > 0)
            problems.Add(new("units", $"contract {contracts[0]} is not recorded", "Record contract.opened with the profile it adopted."));
        return contract;
    }

    private void CheckProofs(List<PacketProblem> problems)
    {
        var without = Records.Where(r => !_proofs.ContainsKey(r.Id)).ToList();
        if (without.Count > 0)
            problems.Add(new("proofs", $"{without.Count} of {Records.Count} records are not sealed yet, the first is {without[0].Id}", "Wait until the log's signer has sealed them and try again."));
        foreach (var record in Records.Except(without))
        {
            var proof = _proofs[record.Id];
            if (!Record.LeafHash(record.Bytes.Span).AsSpan().SequenceEqual(proof.LeafHash)
                || !Merkle.VerifyInclusion(proof.Index, Checkpoint.Size, proof.LeafHash, proof.Path, Checkpoint.Root))
                problems.Add(new("proofs", $"record {record.Id} does not lead to the signed root", "The stored bytes differ from what was sealed. Stop and have the administrator check the log."));
        }
    }

    // A packet signed before its last evidence would state what nobody could know.
    private void CheckMoment(List<PacketProblem> problems)
    {
        var last = Records.Count == 0 ? default : Records.Max(r => r.RecordedAt);
        if (Request.IssuedAt < last)
            problems.Add(new("issuedAt", $"is before the last record, of {last:yyyy-MM-dd HH:mm:ss zzz}", "Issue the packet after its last evidence."));
    }

    private void CheckLimits(List<PacketProblem> problems)
    {
        foreach (var (unit, finding) in Units.SelectMany(u => u.Judgement.Findings.Where(f => f.Limit.Length > 0).Select(f => (u, f))))
        {
            if (IsConfirmed(unit, finding)) continue;
            var doubtful = LimitsOf(unit, finding).Where(l => !IsConfirmed(l)).ToList();
            problems.AddRange(doubtful.Select(l => new PacketProblem($"limit {l.Key}",
                $"\"{l.Printed}\" of {Cited(l.Source)} is not confirmed against a page of that document", Confirm)));
            if (doubtful.Count == 0)
                problems.Add(new($"requirement {finding.Requirement}", $"its limit of {Cited(finding.Source)} is not confirmed against a page of that document", Confirm));
        }

        var distinct = problems.Distinct().ToList();
        problems.Clear();
        problems.AddRange(distinct);
    }

    private const string Confirm =
        "The quality engineer reads the page and publishes the profile with who confirmed it, when and which page; or issue a draft for the plant's own review.";

    private static bool IsConfirmed(Limit limit) => limit is { ConfirmedBy: not null, ConfirmedOn: not null, ConfirmedPage: not null };

    public static string Cited(Citation source) => string.Join(", ", new[] { source.Document, source.Edition, source.Clause }.Where(s => s is not null));
}
