using Microsoft.AspNetCore.Mvc;
using Traceability.Core.Events;

namespace Traceability.Service.Operations;

/// <summary>RFC 9457 problems of this service: each names the field, the limit and what to do.</summary>
public static class Problems
{
    public static ProblemDetails Shape(IReadOnlyList<ShapeProblem> problems) => new()
    {
        Type = "/problems/shape",
        Title = "This is not readable as a fact",
        Status = StatusCodes.Status422UnprocessableEntity,
        Detail = string.Join(" ", problems.Select(p => p.ToString())),
        Extensions = { ["errors"] = problems.Select(p => new { field = p.Field, limit = p.Limit, remedy = p.Remedy }).ToList() },
    };

    public static ProblemDetails Of(int status, string type, string title, string detail, params (string Key, object? Value)[] more)
    {
        var problem = new ProblemDetails { Type = "/problems/" + type, Title = title, Status = status, Detail = detail };
        foreach (var (key, value) in more) problem.Extensions[key] = value;
        return problem;
    }

    public static IResult Result(ProblemDetails problem) => Results.Problem(problem);
}
