using System.Globalization;
using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Profiles;

/// <summary>Reads one profile file from its parts. Everything that is wrong is named with its line; nothing throws.</summary>
public sealed class ProfileReader
{
    /// <summary>How a file says that a statement stands in an approved shop drawing.</summary>
    public const string ShopDrawing = "shopDrawing";

    /// <summary>How a file says that its document lifts a limit.</summary>
    public const string None = "none";

    private readonly string _file;
    private readonly List<ProfileError> _errors = [];

    private ProfileReader(string file) => _file = file;

    /// <summary>The document, or null with the errors.</summary>
    /// <param name="file">Name of the file, for the errors.</param>
    public static (ProfileDocument? Document, IReadOnlyList<ProfileError> Errors) Read(string file, ProfileNode root)
    {
        var reader = new ProfileReader(file);
        var document = reader.Document(root);
        return (reader._errors.Count == 0 ? document : null, reader._errors);
    }

    private ProfileDocument? Document(ProfileNode root)
    {
        if (Map(root, "A profile", "profile", "version", "title", "agency", "inherits", "rank", "rounding", "releases", "precedence", "editions", "holds", "limits", "notAsked") is not { } map) return null;
        var rank = Optional(map, "rank") is { } r ? Choice<LimitRank>(r, "rank") : null;
        return new ProfileDocument(
            _file, Identity(map, "profile"), Version(map), map.Line, Optional(map, "title")?.Text, Inherits(map), rank,
            Optional(map, "rounding") is { } rounding && Choice<RoundingRule>(rounding, "rounding rule") is { } rule ? new(rule, rounding.Line) : null,
            Choices<HoldKind>(map, "releases", "hold"), Choices<LimitRank>(map, "precedence", "rank"),
            [.. Editions(map, "editions")], [.. Items(map, "limits").Select(i => Limit(i, rank)).OfType<Statement>()], [.. Items(map, "notAsked").Select(i => NotAsked(i, rank)).OfType<Lifted>()],
            [.. Items(map, "holds").Select(Hold).OfType<Stated<HoldRule>>()], Optional(map, "agency")?.Text);
    }

    private Statement? Limit(ProfileNode node, LimitRank? usual)
    {
        if (Map(node, "A limit", "key", "value", "unit", "printed", "rank", "drawing", "source", "products", "when", "confirmedBy", "confirmedOn", "confirmedPage") is not { } map) return null;
        if (Text(map, "key", "the limit", 100) is not { } key) return null;
        if (LimitKeys.Find(key.Text) is not { } known)
        {
            Error(key.Line, $"'{key.Text}' is not a limit that any requirement asks for.", "Compare it with the keys in the schema of profile files.");
            return null;
        }

        var before = _errors.Count;
        var value = Text(map, "value", key.Text, Reading.LongestText);
        Reading? figure = null;
        if (value is not null && value.Text != None)
        {
            if (!Reading.TryParse(value.Text, out var reading) || reading.Value < 0)
                Error(value.Line, $"'{value.Text}' is not a figure of zero or more.", $"Write a decimal such as \"1.5\", an inch fraction such as \"1 1/2\", or \"{None}\" where the document lifts the limit.");
            else if (Rounding.DigitsOf(reading) > known.Digits)
                Error(value.Line, $"'{value.Text}' cannot be rounded to: {key.Text} is read to {known.Digits} digits after the point.", "Write the limit with the digits the document prints.");
            else figure = reading;
        }

        if (Text(map, "unit", key.Text, 20) is { } unit && unit.Text != known.Unit)
            Error(unit.Line, $"{key.Text} is stated in {known.Unit}, not in '{unit.Text}'.", $"Convert the figure to {known.Unit} and write that unit.");
        var drawing = Optional(map, "drawing");
        var rank = RankOf(map, usual, key.Text, out var shopDrawing);
        if (drawing is not null && !shopDrawing) Error(drawing.Line, "Only a statement of an approved shop drawing names a drawing.", $"Give it the rank {ShopDrawing}, or leave the drawing out.");
        var printed = Text(map, "printed", key.Text);
        var source = Source(map, key.Text);
        var products = Products(map);
        var when = Editions(map, "when").Select(e => e.Value).ToList();
        var confirmed = Confirmed(map);
        return _errors.Count > before ? null
            : new(key.Text, figure, known.Unit, printed!.Text, source!, rank, shopDrawing, drawing?.Text, products, when, confirmed, key.Line);
    }

    private Lifted? NotAsked(ProfileNode node, LimitRank? usual)
    {
        if (Map(node, "A lifted requirement", "requirement", "printed", "rank", "source", "products", "when") is not { } map) return null;
        var before = _errors.Count;
        var requirement = Text(map, "requirement", "the lifted requirement", 100);
        if (requirement is not null && Judging.Rules.All.All(r => r.Id != requirement.Text))
            Error(requirement.Line, $"'{requirement.Text}' is not a requirement.", "Take an id from the list of requirements.");
        var name = requirement?.Text ?? "it";
        var rank = RankOf(map, usual, name, out var shopDrawing);
        if (shopDrawing || rank == LimitRank.PlantPlan) Error(map.Line, $"Neither a plant's plan nor a shop drawing can lift {name}.", "Name the document of the contract that does.");
        var printed = Text(map, "printed", name);
        var source = Source(map, name);
        var products = Products(map);
        var when = Editions(map, "when").Select(e => e.Value).ToList();
        return _errors.Count > before ? null : new(requirement!.Text, printed!.Text, source!, rank, products, when, map.Line);
    }

    private Stated<HoldRule>? Hold(ProfileNode node)
    {
        if (Map(node, "The rule of a hold", "hold", "authority", "validHours", "expiresOn", "noticeHours", "telephoneHours", "releasedBy", "source") is not { } map) return null;
        var before = _errors.Count;
        var hold = Text(map, "hold", "the rule of a hold") is { } h ? Choice<HoldKind>(h, "hold") : null;
        var authority = Text(map, "authority", "the rule of a hold") is { } a ? Choice<HoldAuthority>(a, "authority") : null;
        var releasedBy = Optional(map, "releasedBy", 40);
        if (releasedBy is not null && releasedBy.Text is not (Roles.PlantInspector or Roles.QualityEngineer))
            Error(releasedBy.Line, $"'{releasedBy.Text}' releases no hold.", $"Use {Roles.PlantInspector} or {Roles.QualityEngineer}.");
        var source = Text(map, "source", "the rule of a hold", 300);
        var valid = Hours(map, "validHours", above: true);
        var notice = Hours(map, "noticeHours", above: false);
        var telephone = Hours(map, "telephoneHours", above: true);
        var expires = Choices<ExpiryCause>(map, "expiresOn", "cause of expiry");
        return _errors.Count > before ? null : new(new(hold!.Value, authority!.Value, valid, expires?.Value, notice, releasedBy?.Text, source!.Text, telephone), map.Line);
    }

    private Reading? Hours(ProfileMap map, string name, bool above)
    {
        if (Optional(map, name, Reading.LongestText) is not { } text) return null;
        if (Reading.TryParse(text.Text, out var hours) && (above ? hours.Value > 0 : hours.Value >= 0)) return hours;
        Error(text.Line, $"'{text.Text}' is not a number of hours.", "Write a decimal such as \"24\", or leave it out.");
        return null;
    }

    private LimitRank RankOf(ProfileMap map, LimitRank? usual, string of, out bool shopDrawing)
    {
        var stated = Optional(map, "rank");
        shopDrawing = stated?.Text == ShopDrawing;
        if (shopDrawing) return LimitRank.Plan;
        if (stated is not null) return Choice<LimitRank>(stated, "rank", ShopDrawing) ?? default;
        if (usual is null) Error(map.Line, $"{of} does not say the rank of the document it stands in.", $"Give it a rank: {Names<LimitRank>()}, {ShopDrawing}; or the whole file one.");
        return usual ?? default;
    }

    private Citation? Source(ProfileMap map, string of)
    {
        const string Remedy = "Name the document, its edition and clause, and how sure the figure is.";
        if (Member(map, "source") is not { } member)
        {
            Error(map.Line, $"{of} cites no source.", Remedy);
            return null;
        }

        if (Map(member.Value, "A source", "document", "edition", "clause", "mark") is not { } source) return null;
        var document = Optional(source, "document");
        if (document is null) Error(source.Line, $"The source of {of} names no document.", Remedy);
        var mark = Optional(source, "mark") is { } m ? Choice<SourceMark>(m, "mark") : null;
        if (Optional(source, "mark") is null) Error(source.Line, $"The source of {of} does not say how sure the figure is.", $"Give it a mark: {Names<SourceMark>()}.");
        return document is null || mark is null ? null : new(document.Text, mark.Value, Optional(source, "edition", 40)?.Text, Optional(source, "clause", 100)?.Text);
    }

    private Confirmation? Confirmed(ProfileMap map)
    {
        var by = Optional(map, "confirmedBy");
        var on = Optional(map, "confirmedOn");
        var page = Optional(map, "confirmedPage", 100);
        if (by is null && (on ?? page) is { } alone) Error(alone.Line, "A confirmation names the person who made it.", "Add confirmedBy, or leave the confirmation out.");
        DateOnly? day = null;
        if (on is not null && !Rfc3339.TryReadDay(on.Text, out var read)) Error(on.Line, $"'{on.Text}' is not a day.", "Write it as 2026-03-02.");
        else if (on is not null && Rfc3339.TryReadDay(on.Text, out read)) day = read;
        return by is null ? null : new(by.Text, day, page?.Text);
    }

    private List<string> Products(ProfileMap map)
    {
        var products = Texts(map, "products");
        foreach (var unknown in products.Where(p => !LimitKeys.Products.Contains(p.Text, StringComparer.Ordinal)))
            Error(unknown.Line, $"'{unknown.Text}' is not a kind of product.", $"Use {string.Join(", ", LimitKeys.Products)}.");
        return [.. products.Select(p => p.Text)];
    }

    private List<Stated<EditionChoice>> Editions(ProfileMap map, string name)
    {
        var chosen = new List<Stated<EditionChoice>>();
        if (Member(map, name) is not { } member) return chosen;
        if (Map(member.Value, "The choice of editions", [.. LimitKeys.Editions.Select(e => e.Name)]) is not { } editions) return chosen;
        foreach (var edition in editions.Members)
        {
            var known = LimitKeys.Editions.FirstOrDefault(e => e.Name == edition.Name);
            if (known is null) continue;
            if (edition.Value is ProfileText text && known.Values.Contains(text.Text, StringComparer.Ordinal)) chosen.Add(new(new(known.Name, text.Text), edition.Line));
            else Error(edition.Line, $"{known.Name} must be one of {string.Join(", ", known.Values)}.", "Choose one of these, written like this.");
        }

        return chosen;
    }

    private Stated<string>? Inherits(ProfileMap map) => Optional(map, "inherits", 100) is { } parent ? new(parent.Text, parent.Line) : null;

    private string Identity(ProfileMap map, string name)
    {
        if (Text(map, name, "The file", 80) is not { } text) return "";
        if (!Subject.IsId(text.Text, "profile") || text.Text.Contains('@', StringComparison.Ordinal)) Error(text.Line, $"'{text.Text}' cannot name a profile.", "Use letters, digits and hyphens.");
        return text.Text;
    }

    private int Version(ProfileMap map)
    {
        if (Text(map, "version", "The file") is not { } text) return 0;
        if (!int.TryParse(text.Text, NumberStyles.None, CultureInfo.InvariantCulture, out var version) || version is < 1 or > 1_000_000)
            Error(text.Line, $"'{text.Text}' is not a version.", "Write a whole number from 1 on; a published version is never changed.");
        return version;
    }

    private IReadOnlyList<ProfileNode> Items(ProfileMap map, string name)
    {
        if (Member(map, name) is not { } member) return [];
        if (member.Value is ProfileList list) return list.Items;
        Error(member.Line, $"'{name}' is a list.", "Write each entry on a line that begins with a hyphen.");
        return [];
    }

    private List<ProfileText> Texts(ProfileMap map, string name)
    {
        var items = Items(map, name);
        foreach (var other in items.Where(i => i is not ProfileText)) Error(other.Line, $"An entry of '{name}' is a name.", "Write names alone, with commas between them.");
        return [.. items.OfType<ProfileText>()];
    }

    private Stated<IReadOnlyList<T>>? Choices<T>(ProfileMap map, string name, string what) where T : struct, Enum =>
        Member(map, name) is not { } member ? null
            : new([.. Texts(map, name).Select(t => Choice<T>(t, what)).OfType<T>()], member.Line);

    private T? Choice<T>(ProfileText text, string what, params string[] also) where T : struct, Enum
    {
        foreach (var value in Enum.GetValues<T>())
        {
            if (JsonNamingPolicy.CamelCase.ConvertName(value.ToString()) == text.Text) return value;
        }

        Error(text.Line, $"'{text.Text}' is no {what}.", $"Use {string.Join(", ", [Names<T>(), .. also])}.");
        return null;
    }

    private static string Names<T>() where T : struct, Enum => string.Join(", ", Enum.GetNames<T>().Select(JsonNamingPolicy.CamelCase.ConvertName));

    private ProfileMap? Map(ProfileNode node, string what, params string[] members)
    {
        if (node is not ProfileMap map)
        {
            Error(node.Line, $"{what} is written as names with values.", "Write \"name: value\" on lines of their own.");
            return null;
        }

        foreach (var stranger in map.Members.Where(m => !members.Contains(m.Name, StringComparer.Ordinal)))
            Error(stranger.Line, $"{what} has no '{stranger.Name}'.", $"It can have {string.Join(", ", members)}.");
        foreach (var again in map.Members.GroupBy(m => m.Name, StringComparer.Ordinal).SelectMany(g => g.Skip(1)))
            Error(again.Line, $"'{again.Name}' is stated twice.", "Remove one.");
        return map;
    }

    private static ProfileMember? Member(ProfileMap map, string name) => map.Members.FirstOrDefault(m => string.Equals(m.Name, name, StringComparison.Ordinal));

    private ProfileText? Text(ProfileMap map, string name, string of, int longest = FactShape.LongestText)
    {
        var text = Optional(map, name, longest);
        if (text is null && Member(map, name) is null) Error(map.Line, $"{of} has no '{name}'.", "Add it.");
        return text;
    }

    private ProfileText? Optional(ProfileMap map, string name, int longest = FactShape.LongestText)
    {
        if (Member(map, name) is not { } member) return null;
        if (member.Value is ProfileText text && text.Text.Length <= longest && !string.IsNullOrWhiteSpace(text.Text)) return text;
        Error(member.Line, $"'{name}' is a text of 1 to {longest} characters.", "Fill it in or shorten it.");
        return null;
    }

    private void Error(int line, string reason, string remedy)
    {
        var error = new ProfileError(_file, line, reason, remedy);
        if (!_errors.Contains(error)) _errors.Add(error);
    }
}
