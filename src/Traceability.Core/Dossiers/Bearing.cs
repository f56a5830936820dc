using Traceability.Core.Records;

namespace Traceability.Core.Dossiers;

/// <summary>
/// What a record has to name so that it belongs to a dossier: the subjects walked to, the records that are in it and those that they change, and who
/// recorded them. Whether newcomers bear on a judgement is answered by it without reading the dossier again. Pure.
/// </summary>
public sealed class Bearing
{
    private readonly HashSet<string> _subjects = new(StringComparer.Ordinal);
    private readonly HashSet<Guid> _records = [];

    /// <param name="walked">Every subject that the links lead to, the unit itself included.</param>
    public Bearing(IEnumerable<string> walked, IEnumerable<Record> records)
    {
        _subjects.UnionWith(walked);
        foreach (var record in records)
        {
            // The same steps as the gathering of a dossier: whoever changes it, whom it changes, what else changes that one, and its person's certificates.
            _subjects.UnionWith(NextOf(record));
            _records.UnionWith(ChangedBy(record));
        }
    }

    /// <summary>Whether a record of this id about these subjects belongs to the dossier.</summary>
    public bool IsMetBy(Guid id, IEnumerable<string> subjects) => _records.Contains(id) || subjects.Any(_subjects.Contains);

    public bool IsMetBy(Record record) => IsMetBy(record.Id, record.Links().Where(l => l.Kind == LinkKind.About).Select(l => l.From.Key));

    /// <summary>Subjects beside the walked ones whose records come with a record.</summary>
    public static IEnumerable<string> NextOf(Record record) =>
    [
        "record:" + record.Id, .. record.Links().Where(l => l.Kind == LinkKind.About && l.From.Kind == "record").Select(l => l.From.Key),
        .. record.Person is { } person ? ["person:" + person] : Array.Empty<string>(),
    ];

    /// <summary>Records that a record is about.</summary>
    public static IEnumerable<Guid> ChangedBy(Record record) =>
        record.Links().Where(l => l.Kind == LinkKind.About && l.From.Kind == "record").Select(l => Guid.TryParse(l.From.Id, out var id) ? id : Guid.Empty).Where(id => id != Guid.Empty);
}
