using Traceability.Service.Board;

namespace Traceability.Service.Pages;

public static class PagesSetup
{
    public static void AddPages(this IServiceCollection services, string formCookie)
    {
        // Named, because the entry assembly of a test is not this one.
        services.AddRazorPages().AddMvcOptions(o => { o.Filters.Add<HandlerDoors>(); o.Filters.Add<ForgedForms>(); }).AddApplicationPart(typeof(PagesSetup).Assembly);
        services.AddAntiforgery(o => { o.Cookie.Name = formCookie; o.Cookie.SameSite = SameSiteMode.Strict; o.Cookie.SecurePolicy = CookieSecurePolicy.SameAsRequest; o.SuppressXFrameOptionsHeader = true; });
        services.AddExceptionHandler<WentWrong>().AddExceptionHandler<Operations.FailureInWords>();
        services.AddSingleton<PlantSettings>().AddSingleton<BoardReader>();
    }
}
