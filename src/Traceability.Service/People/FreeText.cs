using Traceability.Core.People;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>
/// Says whether a text that is about to become part of a record names somebody in the register. For the pages, whose people are signed in; a kiosk looks
/// among those it knows itself, so that no device can ask names out; nor may an agency's inspector. The answer is yes or no, never which.
/// </summary>
public static class FreeText
{
    /// <summary>Texts in one question. Our own choice: more than any form has.</summary>
    private const int MostTexts = 20;

    public sealed record Question(IReadOnlyList<string?> Texts);

    public sealed record Answer(bool Named, string? Warning);

    public static void MapFreeText(this IEndpointRouteBuilder app) =>
        app.MapPost("/v1/free-text/names", (Question question, Register register) =>
            {
                if (question.Texts.Count > MostTexts) return Problems.Result(Problems.Of(422, "texts", "Too many texts at once", $"texts: at most {MostTexts}. Ask in several requests."));
                var names = register.People.Select(p => p.DisplayName).Where(n => n != PeopleDesk.Erased).ToList();
                var named = question.Texts.OfType<string>().Any(t => NamesInText.Any(t, names));
                return Results.Json(new Answer(named, named ? NamesInText.Warning : null));
            })
            .RequireAuthorization(Access.FreeText).WithTags("People").WithSummary("Whether a text that is to be recorded names somebody")
            .WithDescription("Nothing is kept of it. A whole name is found however it is written, a family name where it begins with a capital and stands alone.").Produces<Answer>().ProducesProblem(422);
}
