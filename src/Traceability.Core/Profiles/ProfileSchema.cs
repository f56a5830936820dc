using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Core.Events;

namespace Traceability.Core.Profiles;

/// <summary>
/// JSON Schema (draft 2020-12) of a profile file, for editors and for those who make such files. It is made from the same
/// lists that <see cref="ProfileReader"/> reads by; what only several files together can show is the compiler's.
/// </summary>
public static class ProfileSchema
{
    /// <summary>Name of the schema in <see cref="FactSchema.Folder"/>.</summary>
    public const string Name = "profile-file";

    public static JsonObject Create() => new()
    {
        ["$schema"] = FactSchema.Dialect,
        ["$id"] = FactSchema.IdOf(Name),
        ["title"] = Name,
        ["description"] = "A file of limits: an agency's rules, a special provision, a plant's plan. It inherits another file and states what differs.",
        ["type"] = "object",
        ["properties"] = new JsonObject
        {
            ["profile"] = Text("Its name.", 80),
            ["version"] = new JsonObject { ["type"] = "integer", ["minimum"] = 1, ["maximum"] = 1_000_000, ["description"] = "A published version is never changed." },
            ["title"] = Text("What it is, for people."),
            ["agency"] = Text("The agency whose limits they are, named as its contracts name it; stock cast to it is open to its inspectors."),
            ["inherits"] = Text("The file it is made from, \"name@version\".", 100),
            ["rank"] = Choice<LimitRank>("Rank of the document that the whole file is; plantPlan makes it a plan that may only tighten."),
            ["rounding"] = Choice<RoundingRule>("How observed values are rounded to the limit's digits before they are compared."),
            ["releases"] = ListOf(Choice<HoldKind>("A hold that needs a person's release before the step.")),
            ["precedence"] = ListOf(Choice<LimitRank>("Ranks of documents, strongest first; each but plantPlan once.")),
            ["editions"] = Editions("The editions and agency rules it chooses."),
            ["holds"] = ListOf(Hold()),
            ["limits"] = ListOf(Limit()),
            ["notAsked"] = ListOf(Lifted()),
        },
        ["required"] = new JsonArray("profile", "version"),
        ["additionalProperties"] = false,
        ["$defs"] = new JsonObject { ["source"] = Source() },
    };

    private static JsonObject Limit() => new()
    {
        ["type"] = "object",
        ["properties"] = new JsonObject
        {
            ["key"] = new JsonObject { ["anyOf"] = new JsonArray([.. LimitKeys.All.Select(Key)]) },
            ["value"] = new JsonObject
            {
                ["description"] = "The figure in the unit, with the digits the document prints; \"none\" where the document lifts the limit.",
                ["anyOf"] = new JsonArray(new JsonObject { ["const"] = ProfileReader.None }, new JsonObject { ["type"] = "string", ["pattern"] = FactSchema.ReadingPattern.Replace("^-?", "^", StringComparison.Ordinal) }),
            },
            ["unit"] = new JsonObject { ["enum"] = Strings(LimitKeys.All.Select(k => k.Unit).Distinct(StringComparer.Ordinal)) },
            ["printed"] = Text("The limit as the document prints it."),
            ["rank"] = new JsonObject { ["description"] = "Rank of the document it stands in; left out where the file has one.", ["enum"] = Strings([.. Names<LimitRank>(), ProfileReader.ShopDrawing]) },
            ["drawing"] = Text("The approved shop drawing it stands in, with the rank shopDrawing."),
            ["source"] = new JsonObject { ["$ref"] = "#/$defs/source" },
            ["products"] = Products(),
            ["when"] = Editions("The choices of edition under which it holds."),
            ["confirmedBy"] = Text("Person who checked it against a page of the document."),
            ["confirmedOn"] = new JsonObject { ["type"] = "string", ["pattern"] = "^[0-9]{4}-[0-9]{2}-[0-9]{2}$" },
            ["confirmedPage"] = Text("The page it was checked against.", 100),
        },
        ["required"] = new JsonArray("key", "value", "unit", "printed", "source"),
        ["additionalProperties"] = false,
        // A key is stated in its own unit.
        ["anyOf"] = new JsonArray([.. LimitKeys.All.GroupBy(k => k.Unit, StringComparer.Ordinal).Select(g => (JsonNode)new JsonObject
        {
            ["properties"] = new JsonObject
            {
                ["unit"] = new JsonObject { ["const"] = g.Key },
                ["key"] = new JsonObject { ["anyOf"] = new JsonArray([.. g.Select(k => (JsonNode)(k.Many ? new JsonObject { ["pattern"] = k.Pattern } : new JsonObject { ["const"] = k.Key }))]) },
            },
        })]),
    };

    private static JsonNode Key(LimitKey key)
    {
        var node = new JsonObject { ["description"] = $"{key.What}; {Words(key.Direction)}, in {key.Unit}, read to {key.Digits} digits." };
        if (key.Many)
        {
            node["type"] = "string";
            node["pattern"] = key.Pattern;
        }
        else
        {
            node["const"] = key.Key;
        }

        return node;
    }

    /// <summary>A direction in words.</summary>
    public static string Words(Direction direction) => direction switch
    {
        Direction.AtMost => "at most",
        Direction.AtLeast => "at least",
        Direction.PlusOrMinus => "plus or minus",
        Direction.Every => "one for every",
        _ => "exactly",
    };

    private static JsonObject Lifted() => new()
    {
        ["type"] = "object",
        ["properties"] = new JsonObject
        {
            ["requirement"] = new JsonObject { ["description"] = "The id of a requirement that the document lifts.", ["enum"] = Strings(Judging.Rules.All.Select(r => r.Id)) },
            ["printed"] = Text("As the document prints it."),
            ["rank"] = Choice<LimitRank>("Rank of the document it stands in; left out where the file has one."),
            ["source"] = new JsonObject { ["$ref"] = "#/$defs/source" },
            ["products"] = Products(),
            ["when"] = Editions("The choices of edition under which it holds."),
        },
        ["required"] = new JsonArray("requirement", "printed", "source"),
        ["additionalProperties"] = false,
    };

    private static JsonObject Hold() => new()
    {
        ["type"] = "object",
        ["properties"] = new JsonObject
        {
            ["hold"] = Choice<HoldKind>("The hold."),
            ["authority"] = Choice<HoldAuthority>("Who must act: the plant; the agency is told and may attend; the agency itself."),
            ["validHours"] = Figure("How long a release stands, hours; left out when time does not end it."),
            ["expiresOn"] = ListOf(Choice<ExpiryCause>("What ends a release before its time.")),
            ["noticeHours"] = Figure("Notice the agency is due before the step, hours."),
            ["telephoneHours"] = Figure("Hours in which the agency confirms a release by telephone; left out where it releases none by telephone."),
            ["releasedBy"] = new JsonObject { ["description"] = "Role that releases it.", ["enum"] = Strings([Roles.PlantInspector, Roles.QualityEngineer]) },
            ["source"] = Text("Document, edition and clause.", 300),
        },
        ["required"] = new JsonArray("hold", "authority", "source"),
        ["additionalProperties"] = false,
    };

    private static JsonObject Figure(string description) =>
        new() { ["description"] = description, ["type"] = "string", ["pattern"] = FactSchema.ReadingPattern.Replace("^-?", "^", StringComparison.Ordinal) };

    private static JsonObject Source() => new()
    {
        ["type"] = "object",
        ["properties"] = new JsonObject
        {
            ["document"] = Text("Standard, specification or letter."),
            ["edition"] = Text("Its edition.", 40),
            ["clause"] = Text("Its clause.", 100),
            ["mark"] = Choice<SourceMark>("How sure the figure is: seen in a publication, from memory, habit of the trade without a document, stated by an approval recorded here."),
        },
        ["required"] = new JsonArray("document", "mark"),
        ["additionalProperties"] = false,
    };

    private static JsonObject Products() => ListOf(new JsonObject { ["description"] = "A kind of product it holds for; left out for all.", ["enum"] = Strings(LimitKeys.Products) });

    private static JsonObject Editions(string description) => new()
    {
        ["type"] = "object",
        ["description"] = description,
        ["properties"] = new JsonObject(LimitKeys.Editions.Select(e => KeyValuePair.Create(e.Name, (JsonNode?)new JsonObject { ["description"] = e.What, ["enum"] = Strings(e.Values) }))),
        ["additionalProperties"] = false,
    };

    private static JsonObject ListOf(JsonObject items) => new() { ["type"] = "array", ["items"] = items };

    private static JsonObject Text(string description, int longest = FactShape.LongestText) =>
        new() { ["type"] = "string", ["description"] = description, ["minLength"] = 1, ["maxLength"] = longest };

    private static JsonObject Choice<T>(string description) where T : struct, Enum => new() { ["description"] = description, ["enum"] = Strings(Names<T>()) };

    private static IEnumerable<string> Names<T>() where T : struct, Enum => Enum.GetNames<T>().Select(JsonNamingPolicy.CamelCase.ConvertName);

    private static JsonArray Strings(IEnumerable<string> values) => new([.. values.Select(v => (JsonNode)v)]);
}
