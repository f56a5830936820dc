using Microsoft.AspNetCore.Authentication;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

public static class SignInEndpoints
{
    public sealed record SignInRequest(string Person, string Password);

    public static void MapSignIn(this IEndpointRouteBuilder app)
    {
        app.MapPost("/v1/sign-in", async (SignInRequest request, HttpContext http, Register register, TimeProvider clock) =>
            {
                var person = register.Person(request.Person);
                if (person is null || !Register.PasswordIs(person, request.Password) || person.LapsedAt <= clock.GetUtcNow())
                    return Problems.Result(Problems.Of(401, "sign-in", "Not signed in", "The person id or the password is not right, or the person's roles have lapsed."));
                await http.SignInAsync(Access.Principal(person));
                return Results.Json(new { person = person.Id, displayName = person.DisplayName, roles = person.Roles });
            })
            .AllowAnonymous().WithTags("People").WithSummary("Sign a person in; sets the session cookie").ProducesProblem(401);
        app.MapPost("/v1/sign-out", async (HttpContext http) => { await http.SignOutAsync(); return Results.NoContent(); })
            .AllowAnonymous().WithTags("People").WithSummary("Sign out");
    }
}
